"""The painting guide: how large each level's art has to be, with bleed, and a template to paint into."""
