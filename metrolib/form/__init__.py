"""Heights to form: straightness, flatness, parallelism, twist and what is unworn."""
