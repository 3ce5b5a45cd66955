//! The checks, one a file: figure, limit, where, remedy.
