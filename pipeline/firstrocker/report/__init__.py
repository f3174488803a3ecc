"""Study in, pages and pictures out."""
