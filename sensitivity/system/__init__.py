"""Systems: models found, read by signature and joined by name."""
