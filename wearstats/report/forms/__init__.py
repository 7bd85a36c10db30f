"""The forms: measuring and follow-up as a workbook, an offline page and on paper, and a notebook for the telephone."""
