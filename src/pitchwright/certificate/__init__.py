"""What is shown on paper: the sheet of a tracking curve and, later, the certificate."""
