//! Odd channel files replayed through every reader, each as it is and with bytes changed: never a panic, never an unusable channel.

#![expect(clippy::unwrap_used, reason = "a test may stop at once")]

use filmgauge_sensors::{list, read};
use std::path::Path;

/// Tables and x–y texts.
const TABLES: [&[u8]; 12] = [
    b"time_s,ax\n0,1\n0.1,2\n",
    b"time_s;ax [g]\r\n0,0;1,5\r\n0,1;2,5\r\n",
    b"# note\n\"time, ms\",\"a \"\"x\"\"\"\n0,1\n1,2\n",
    b"time_s,ax\rs,g\r0,1\r0.1,2\r",
    b"\xef\xbb\xbftime_s,ax\n0,1\n0.1,2\n",
    b"time_s,\xb0\n0,1\n0.1,2\n",
    b"0 1 2\n0.1 2 3\n0.2 3 4\n",
    b"0\t1e308\n1e-320\t-1e308\n",
    b"time_s,ax\n0,1\n0,1\n",
    b"time_s,ax\n-1e308,1\n1e308,2\n",
    b"time_s,ax\n0,NaN\n0.1,inf\n",
    b",,,\n,,,\n",
];

/// Channel files of an exchange folder.
const FILES: [&[u8]; 8] = [
    b"Unit :g\nTime of first sample :0\nSampling interval :0.1\nNumber of samples :2\n1\n2\n",
    b"Unit :g\r\nTime of first sample :0\r\nSampling interval :0\r\n1\r\n2\r\n",
    b"Unit :g\nTime of first sample :-1e308\nSampling interval :1e308\n1\n2\n3\n",
    b"Reference channel :explicit\nReference channel name :10CVEHCG0000ACX0\n1\n2\n",
    b"Reference channel :explicit\nReference channel name :10CVEHCG0000TI00\n1\n2\n",
    b"Sampling interval :NOVALUE\nTime of first sample :NOVALUE\nNOVALUE\n",
    b"Number of samples :99999999999999999999\nSampling interval :1\nTime of first sample :0\n1\n2\n",
    b":::\n:\n1:2\n3\n4\n",
];

/// Even draws: the mixing function of Steele, Lea & Flood 2014 ("Fast splittable pseudorandom number generators").
struct Draws(u64);

impl Draws {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n.max(1) as u64) as usize
    }

    /// One to four bytes changed, put in, taken out or doubled.
    fn changed(&mut self, bytes: &[u8]) -> Vec<u8> {
        let odd = b"0123456789.,;:-+eE \t\r\n#\"NOVALUE\0\xff";
        let mut changed = bytes.to_vec();
        for _ in 0..=self.below(4) {
            let at = self.below(changed.len());
            let byte = odd[self.below(odd.len())];
            match self.below(4) {
                0 if !changed.is_empty() => changed[at] = byte,
                1 if !changed.is_empty() => {
                    changed.remove(at);
                }
                2 => changed.extend_from_slice(&bytes[at.min(bytes.len())..]),
                _ => changed.insert(at.min(changed.len()), byte),
            }
        }
        changed
    }
}

fn usable(path: &Path, code: &str) {
    if let Ok(channel) = read(path, code, None) {
        channel.check().unwrap();
        assert!(!channel.file.as_os_str().is_empty());
    }
}

#[test]
fn no_table_and_no_change_of_it_upsets_the_reader() {
    let folder = tempfile::tempdir().unwrap();
    let mut draws = Draws(1);
    for (seed, name) in TABLES.iter().flat_map(|seed| [(seed, "a.csv"), (seed, "a.txt")]) {
        let path = folder.path().join(name);
        for round in 0..150 {
            let bytes = if round == 0 { seed.to_vec() } else { draws.changed(seed) };
            std::fs::write(&path, bytes).unwrap();
            for code in list(&path).unwrap_or_default().iter().map(String::as_str).chain(["ax", "y"]) {
                usable(&path, code);
            }
        }
    }
}

#[test]
fn no_exchange_folder_and_no_change_of_it_upsets_the_reader() {
    let folder = tempfile::tempdir().unwrap();
    let channels = folder.path().join("Channel");
    std::fs::create_dir(&channels).unwrap();
    let path = folder.path().join("a.mme");
    let index = b"Number of channels :2\nName of channel 001 :10CVEHCG0000ACX0 / a\nName of channel 002 :10CVEHCG0000TI00\n";
    std::fs::write(&path, "Title :x\n").unwrap();
    std::fs::write(channels.join("a.002"), "Unit :ms\nTime of first sample :0\nSampling interval :1\n0\n1\n")
        .unwrap();
    let mut draws = Draws(2);
    for seed in FILES {
        for round in 0..150 {
            let bytes = if round == 0 { seed.to_vec() } else { draws.changed(seed) };
            std::fs::write(channels.join("a.001"), bytes).unwrap();
            let bytes = if round % 3 == 0 { index.to_vec() } else { draws.changed(index) };
            std::fs::write(channels.join("a.chn"), bytes).unwrap();
            for code in list(&path).unwrap_or_default().iter().map(String::as_str).chain(["10CVEHCG0000ACX0"])
            {
                usable(&path, code);
            }
        }
    }
}
