//! True depth of PNG samples: the sBIT chunk, read and written (PNG specification, third edition, 11.3.2.4 and 13.12).

use std::io::{Read, Seek, SeekFrom};

/// Bytes of the signature and of the whole IHDR chunk, which always comes first.
const AFTER_HEADER: usize = 8 + 25;

/// Significant bits of grey samples, when the file states them before its picture data.
pub(crate) fn significant_bits(file: &mut (impl Read + Seek)) -> Option<u8> {
    file.seek(SeekFrom::Start(8)).ok()?;
    // Chunks before the picture are few; the bound keeps a crafted file from holding us up.
    for _ in 0..256 {
        let mut head = [0_u8; 8];
        file.read_exact(&mut head).ok()?;
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]);
        match &head[4..] {
            b"sBIT" => {
                let mut bits = [0_u8; 1];
                file.read_exact(&mut bits).ok()?;
                return Some(bits[0]);
            }
            b"IDAT" | b"IEND" => return None,
            _ => file.seek(SeekFrom::Current(i64::from(length) + 4)).ok()?,
        };
    }
    None
}

/// Puts an sBIT chunk for one grey channel behind the header of a finished PNG.
pub(crate) fn state_significant_bits(png: &mut Vec<u8>, bits: u8) {
    let mut chunk = vec![0, 0, 0, 1];
    chunk.extend_from_slice(b"sBIT");
    chunk.push(bits);
    let check = crc32(&chunk[4..]);
    chunk.extend_from_slice(&check.to_be_bytes());
    png.splice(AFTER_HEADER..AFTER_HEADER, chunk);
}

/// Cyclic redundancy check of a chunk (PNG specification, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { 0xEDB8_8320 ^ (crc >> 1) } else { crc >> 1 };
        }
    }
    !crc
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_check_equals_the_published_one() {
        // Check value of CRC-32/ISO-HDLC over the nine digits, as catalogued for this polynomial.
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
        // The empty IEND chunk ends every PNG with these four bytes.
        assert_eq!(crc32(b"IEND"), 0xAE42_6082);
    }
}
