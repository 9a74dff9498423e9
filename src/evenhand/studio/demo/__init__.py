"""The demonstration: invented people, six weeks of takes."""
