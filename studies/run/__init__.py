"""The experiment as a job: candidates on ground in batches, part files, and one results Dataset."""
