//! Profiles: plane curves of lines and arcs in (d, z), d the inset from the outline.
