//! A reader of a file that takes long by itself, such as footage to be hashed: it tells how far it is and stops when asked.

use crate::watch::{Progress, Watch};
use std::io::{Error, Read, Result};

/// Progress is told in mebibytes.
const MEBI_BITS: u32 = 20;

/// Reads what `inner` holds, tells of every mebibyte and fails when the watcher asks to stop.
pub struct Watched<'a, R> {
    inner: R,
    watch: &'a dyn Watch,
    step: String,
    done: u64,
    total: u64,
}

impl<'a, R: Read> Watched<'a, R> {
    /// `doing` says what is done with the file, such as "hash footage/side.mkv"; `bytes` is its size.
    pub fn new(inner: R, doing: &str, bytes: u64, watch: &'a dyn Watch) -> Self {
        Self { inner, watch, step: format!("{doing}, MiB"), done: 0, total: bytes.div_ceil(1 << MEBI_BITS) }
    }
}

impl<R: Read> Read for Watched<'_, R> {
    fn read(&mut self, into: &mut [u8]) -> Result<usize> {
        if self.watch.stop_asked() {
            // Whoever reads sees the watcher too and tells this from a fault of the file.
            return Err(Error::other("stopped on request"));
        }
        let read = self.inner.read(into)?;
        let before = self.done >> MEBI_BITS;
        self.done += read as u64;
        let done = self.done >> MEBI_BITS;
        if done != before {
            self.watch.progress(&Progress { step: &self.step, done, total: Some(self.total) });
        }
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    struct StopAt(u64, Mutex<Vec<u64>>);

    impl Watch for StopAt {
        fn progress(&self, progress: &Progress<'_>) {
            assert_eq!((progress.step, progress.total), ("hash film, MiB", Some(4)));
            self.1.lock().unwrap().push(progress.done);
        }

        fn stop_asked(&self) -> bool {
            self.1.lock().unwrap().last().is_some_and(|done| *done >= self.0)
        }
    }

    #[test]
    fn every_mebibyte_is_told_and_a_stop_ends_it() {
        let film = vec![7_u8; (3 << 20) + 1];
        let read = |watch: &StopAt| {
            let mut from = Watched::new(film.as_slice(), "hash film", film.len() as u64, watch);
            filmgauge_shelf::hashed_of(&mut from)
        };
        let watch = StopAt(9, Mutex::default());
        assert_eq!(read(&watch).unwrap().0, film.len() as u64);
        assert_eq!(*watch.1.lock().unwrap(), [1, 2, 3]);
        let watch = StopAt(2, Mutex::default());
        assert!(read(&watch).is_err());
        assert_eq!(*watch.1.lock().unwrap(), [1, 2]);
    }
}
