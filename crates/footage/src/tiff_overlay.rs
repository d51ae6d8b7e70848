//! A view of a TIFF file in which some header entries read differently: odd depths are passed off as plain bytes.
//!
//! The decoder unpacks every compression, but no samples of 9 to 15 bits. Told that a row of 12-bit samples is a row
//! of 8-bit ones, half as many again, it hands over the packed bytes, which are then unpacked here. The file itself
//! is only read.

use std::io::{Read, Result, Seek, SeekFrom};

/// A file with bytes replaced at some places.
pub(crate) struct Overlay<R> {
    file: R,
    at: u64,
    replaced: Vec<(u64, Vec<u8>)>,
}

impl<R: Read + Seek> Overlay<R> {
    pub(crate) fn new(mut file: R) -> Result<Self> {
        let at = file.stream_position()?;
        Ok(Self { file, at, replaced: Vec::new() })
    }

    /// Forgets all replacements.
    pub(crate) fn clear(&mut self) {
        self.replaced.clear();
    }

    /// Makes the entries of the directory at `place` read as given: tag and whole number. Tags that it lacks are
    /// left out.
    pub(crate) fn replace_entries(
        &mut self,
        place: u64,
        little_end: bool,
        entries: &[(u16, u32)],
    ) -> Result<()> {
        let back = self.at;
        let layout = Layout { little_end, big: self.is_big(little_end)? };
        let count_bytes: u64 = if layout.big { 8 } else { 2 };
        let entry_bytes: u64 = if layout.big { 20 } else { 12 };
        self.seek(SeekFrom::Start(place))?;
        let count = if layout.big { self.number(8, little_end)? } else { self.number(2, little_end)? };
        for nth in 0..count.min(u64::from(u16::MAX)) {
            let entry = place + count_bytes + nth * entry_bytes;
            self.seek(SeekFrom::Start(entry))?;
            let tag = self.number(2, little_end)?;
            if let Some((_, value)) = entries.iter().find(|(wanted, _)| u64::from(*wanted) == tag) {
                self.replaced.push((entry + 2, layout.entry(*value)));
            }
        }
        self.seek(SeekFrom::Start(back))?;
        Ok(())
    }

    fn is_big(&mut self, little_end: bool) -> Result<bool> {
        self.seek(SeekFrom::Start(2))?;
        Ok(self.number(2, little_end)? == 43)
    }

    fn number(&mut self, n_bytes: usize, little_end: bool) -> Result<u64> {
        let mut bytes = [0_u8; 8];
        self.read_exact(&mut bytes[..n_bytes])?;
        if !little_end {
            bytes[..n_bytes].reverse();
        }
        Ok(u64::from_le_bytes(bytes))
    }
}

struct Layout {
    little_end: bool,
    big: bool,
}

impl Layout {
    /// An entry behind its tag: type LONG, one value, the value (TIFF 6.0, section 2; doubled sizes in BigTIFF).
    fn entry(&self, value: u32) -> Vec<u8> {
        let put = |number: u32, n_bytes: usize| -> Vec<u8> {
            let mut bytes = number.to_le_bytes().to_vec();
            bytes.resize(n_bytes, 0);
            if !self.little_end {
                bytes.reverse();
            }
            bytes
        };
        // The value stands first in its field, which BigTIFF fills up behind it.
        let mut entry = [put(4, 2), put(1, if self.big { 8 } else { 4 }), put(value, 4)].concat();
        entry.resize(if self.big { 18 } else { 10 }, 0);
        entry
    }
}

impl<R: Read + Seek> Read for Overlay<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let n = self.file.read(buffer)?;
        for (place, bytes) in &self.replaced {
            for (byte, at) in bytes.iter().zip(*place..) {
                let inside = at.checked_sub(self.at).and_then(|offset| usize::try_from(offset).ok());
                if let Some(target) = inside.and_then(|offset| buffer[..n].get_mut(offset)) {
                    *target = *byte;
                }
            }
        }
        self.at += n as u64;
        Ok(n)
    }
}

impl<R: Read + Seek> Seek for Overlay<R> {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.at = self.file.seek(to)?;
        Ok(self.at)
    }
}
