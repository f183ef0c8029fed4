"""Events too rare to be met by driving: the search, what it found, and how that is shown."""
