"""What every other room uses and what knows no study: intervals, number formats, tables, storage, workers."""
