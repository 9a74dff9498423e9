"""The whole studio at a look: lessons, what to hear, who practised, what is looked for."""
