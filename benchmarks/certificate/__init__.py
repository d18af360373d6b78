"""How long a certificate takes."""
