//! TIFF files made byte by byte, for what no writer at hand makes: odd depths, white-is-zero, 64-bit offsets, both orders.

/// Types of tag values (TIFF 6.0, section 2; 16 is BigTIFF's).
const SHORT: u16 = 3;
const LONG: u16 = 4;
const LONG8: u16 = 16;

/// One page: its tags (in any order) and its one strip.
#[derive(Clone)]
pub struct Page {
    pub tags: Vec<(u16, u32)>,
    pub strip: Vec<u8>,
}

impl Page {
    /// A grey page without compression whose rows are packed in `strip`.
    pub fn grey(width: u32, height: u32, bits: u32, strip: Vec<u8>) -> Self {
        let tags =
            vec![(256, width), (257, height), (258, bits), (259, 1), (262, 1), (277, 1), (278, height)];
        Self { tags, strip }
    }

    /// The same with a tag set to another value, or added.
    pub fn with(mut self, tag: u16, value: u32) -> Self {
        self.tags.retain(|(old, _)| *old != tag);
        self.tags.push((tag, value));
        self
    }
}

/// How numbers of the header are written.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Style {
    pub little_end: bool,
    pub big_tiff: bool,
}

/// Every style.
pub const STYLES: [Style; 4] = [
    Style { little_end: true, big_tiff: false },
    Style { little_end: false, big_tiff: false },
    Style { little_end: true, big_tiff: true },
    Style { little_end: false, big_tiff: true },
];

impl Style {
    fn number(self, value: u64, n_bytes: usize) -> Vec<u8> {
        let mut bytes = value.to_le_bytes()[..n_bytes].to_vec();
        if !self.little_end {
            bytes.reverse();
        }
        bytes
    }

    /// Samples of 16 bits in this order.
    pub fn words(self, samples: &[u16]) -> Vec<u8> {
        samples.iter().flat_map(|&sample| self.number(u64::from(sample), 2)).collect()
    }

    /// The file.
    pub fn file(self, pages: &[Page]) -> Vec<u8> {
        let offset_bytes = if self.big_tiff { 8 } else { 4 };
        let mut file = if self.little_end { b"II".to_vec() } else { b"MM".to_vec() };
        file.extend(self.number(if self.big_tiff { 43 } else { 42 }, 2));
        if self.big_tiff {
            file.extend(self.number(8, 2));
            file.extend(self.number(0, 2));
        }
        for page in pages {
            // The place of this directory, behind the strip.
            let at = file.len() + offset_bytes;
            let strip = at as u64;
            let directory = at + page.strip.len() + page.strip.len() % 2;
            file.extend(self.number(directory as u64, offset_bytes));
            file.extend(&page.strip);
            file.resize(directory, 0);
            let mut tags: Vec<(u16, u64)> =
                page.tags.iter().map(|&(tag, value)| (tag, u64::from(value))).collect();
            tags.extend([(273, strip), (279, page.strip.len() as u64)]);
            tags.sort_unstable();
            file.extend(self.number(tags.len() as u64, if self.big_tiff { 8 } else { 2 }));
            for (tag, value) in tags {
                file.extend(self.entry(tag, value));
            }
        }
        file.extend(self.number(0, offset_bytes));
        file
    }

    fn entry(self, tag: u16, value: u64) -> Vec<u8> {
        let (kind, value_bytes) = match tag {
            273 | 279 if self.big_tiff => (LONG8, 8),
            256 | 257 | 273 | 278 | 279 => (LONG, 4),
            _ => (SHORT, 2),
        };
        let field = if self.big_tiff { 8 } else { 4 };
        let mut entry = self.number(u64::from(tag), 2);
        entry.extend(self.number(u64::from(kind), 2));
        entry.extend(self.number(1, field));
        let end = entry.len() + field;
        entry.extend(self.number(value, value_bytes));
        entry.resize(end, 0);
        entry
    }
}

/// Rows of samples packed from the upper bit of each byte.
pub fn packed(width: usize, bits: u32, samples: &[u16]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for row in samples.chunks(width) {
        let text: String =
            row.iter().map(|&level| format!("{level:0width$b}", width = bits as usize)).collect();
        for eight in text.as_bytes().chunks(8) {
            let byte = format!("{:0<8}", String::from_utf8_lossy(eight));
            bytes.push(u8::from_str_radix(&byte, 2).unwrap());
        }
    }
    bytes
}

/// PackBits without any run (TIFF 6.0, section 9): enough to show that packed rows pass through a compression.
pub fn pack_bits(rows: &[u8], row_bytes: usize) -> Vec<u8> {
    let literal = |run: &[u8]| [&[u8::try_from(run.len() - 1).unwrap()], run].concat();
    rows.chunks(row_bytes).flat_map(|row| row.chunks(128).flat_map(literal).collect::<Vec<u8>>()).collect()
}
