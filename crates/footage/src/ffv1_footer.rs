//! Check sums of FFV1 slices (RFC 9043, 4.9): the decoder patches a damaged slice from the picture before it and
//! says nothing, so the check is made here.

/// Bytes of a slice footer with a check sum: size (3), error status (1), parity (4).
const FOOTER: usize = 8;

/// What is known of one film's slices.
#[derive(Debug, Default)]
pub(crate) struct FooterCheck {
    /// A chain of footers with check sums has been seen: from then on, a broken chain is damage. Versions 0 and 1
    /// have no footers, and check sums are an option of the later ones.
    has_check_sums: bool,
}

impl FooterCheck {
    /// Whether a coded picture is damaged. A film without check sums never is.
    pub(crate) fn is_damaged(&mut self, packet: &[u8]) -> bool {
        match slices_from_the_end(packet) {
            Some(slices) => {
                let whole = slices.iter().all(|slice| remainder(slice) == 0);
                self.has_check_sums |= whole;
                self.has_check_sums && !whole
            }
            None => self.has_check_sums,
        }
    }
}

/// The slices with their footers, last one first; `None` when the chain of sizes does not end at the beginning.
fn slices_from_the_end(packet: &[u8]) -> Option<Vec<&[u8]>> {
    let mut slices = Vec::new();
    let mut end = packet.len();
    while end > 0 {
        let footer = end.checked_sub(FOOTER)?;
        let size = packet[footer..footer + 3].iter().fold(0, |size, &byte| size << 8 | usize::from(byte));
        let begin = footer.checked_sub(size)?;
        slices.push(&packet[begin..end]);
        end = begin;
    }
    Some(slices)
}

/// Remainder by the generator 0x104C11DB7, initial value 0, no inversion (RFC 9043, 4.9.3): 0 for a whole slice.
fn remainder(bytes: &[u8]) -> u32 {
    bytes.iter().fold(0, |crc, &byte| (crc << 8) ^ TABLE[usize::from(crc.to_be_bytes()[0] ^ byte)])
}

const TABLE: [u32; 256] = table();

const fn table() -> [u32; 256] {
    let mut table = [0; 256];
    let mut index = 0;
    let mut byte = 0_u32;
    while index < table.len() {
        let mut crc = byte << 24;
        let mut bit = 0;
        while bit < 8 {
            crc = if crc >> 31 == 1 { (crc << 1) ^ 0x04C1_1DB7 } else { crc << 1 };
            bit += 1;
        }
        table[index] = crc;
        index += 1;
        byte += 1;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slice(content: &[u8]) -> Vec<u8> {
        let mut slice = content.to_vec();
        slice.extend([0, 0, u8::try_from(content.len()).unwrap(), 0]);
        let parity = remainder(&slice);
        slice.extend(parity.to_be_bytes());
        slice
    }

    #[test]
    fn one_changed_bit_is_damage() {
        let whole = [slice(b"first slice"), slice(b"second")].concat();
        let mut check = FooterCheck::default();
        assert!(!check.is_damaged(&whole));
        for place in 0..whole.len() {
            let mut hurt = whole.clone();
            hurt[place] ^= 0x10;
            assert!(check.is_damaged(&hurt), "byte {place}");
        }
        assert!(check.is_damaged(&whole[..whole.len() - 1]));
        assert!(!check.is_damaged(&whole));
    }

    #[test]
    fn a_film_without_check_sums_is_never_called_damaged() {
        let mut check = FooterCheck::default();
        assert!(!check.is_damaged(b"picture data of an early version, without footers"));
        assert!(!check.is_damaged(&[]));
    }
}
