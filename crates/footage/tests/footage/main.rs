//! Footage written and read through the public interface, with and without faults.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod broken_stills;
mod codings;
mod damage;
mod fields;
mod films;
mod index;
mod layouts;
mod pictures;
mod random;
mod refusals;
mod round_trips;
mod stills;
mod tiff_bytes;
mod tiffs;
mod working;
