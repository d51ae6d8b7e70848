//! Follows painted targets through short films: true marks, honest gaps, bad input.
