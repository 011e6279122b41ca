"""Trial colonies over the revisions of a design: growth, climate and losses compared, and what cannot be concluded."""
