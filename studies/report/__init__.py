"""The report: page one, questions with charts and tables, worst postures; as a page and on paper."""
