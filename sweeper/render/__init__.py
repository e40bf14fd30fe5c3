"""What a worker does with a variant, and how the parent hands the variants out."""
