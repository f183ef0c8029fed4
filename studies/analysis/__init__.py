"""What results say: candidates, outcomes, comparison, extremes, verdicts, sizing, fatigue life, sensitivity."""
