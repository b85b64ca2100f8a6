"""What a nurse finds at the bedside, beside the photo: each finding with its words, its form and its limits."""
