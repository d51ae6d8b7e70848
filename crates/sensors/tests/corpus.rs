//! Odd channel files replayed through every reader, each as it is and with bytes changed: never a panic, never an unusable channel.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop at once and show how much it tried"
)]

use filmgauge_sensors::{list, read};
use std::path::Path;
use std::time::{Duration, Instant};

/// Changes of each seed where no time is asked for.
const ROUNDS: usize = 150;
/// Seconds for which each reader is tried, instead of a number of changes.
const SECONDS: &str = "FILMGAUGE_CORPUS_SECONDS";

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

/// Test headers of an exchange folder.
const HEADERS: [&[u8]; 3] =
    [b"Title :x\n", b"Data format edition number :1.6\r\nTitle :NOVALUE\r\n.Own key :\xb0\r\n", b""];

/// Channel indexes of an exchange folder.
const INDEXES: [&[u8]; 4] = [
    b"Number of channels :2\nName of channel 001 :10CVEHCG0000ACX0 / a\nName of channel 002 :10CVEHCG0000TI00\n",
    b"Number of channels :1\r\nName of channel 001 :10CVEHCG0000ACX0\r\nName of channel 001 :10CVEHCG0000ACX0\r\n",
    b"Name of channel 1 :10CVEHCG0000ACX\nName of channel ../a :x\nName of channel :\n",
    b"Number of channels :99999999999999999999\n",
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

/// Every seed as it is, then changed ones: a number of rounds, or as many as fit into the time asked for.
fn replay(seeds: &[&[u8]], draws_seed: u64, mut attempt: impl FnMut(&[u8])) {
    let asked = std::env::var(SECONDS).ok().and_then(|seconds| seconds.parse().ok());
    let until = asked.map(|seconds| Instant::now() + Duration::from_secs(seconds));
    let mut draws = Draws(draws_seed);
    seeds.iter().for_each(|seed| attempt(seed));
    let mut round = 1;
    while until.map_or(round < ROUNDS, |until| Instant::now() < until) {
        for seed in seeds {
            attempt(&draws.changed(seed));
        }
        round += 1;
    }
    println!("{} cases", round * seeds.len());
}

fn replay_table(name: &str, draws_seed: u64) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    replay(&TABLES, draws_seed, |bytes| {
        std::fs::write(&path, bytes).unwrap();
        for code in list(&path).unwrap_or_default().iter().map(String::as_str).chain(["ax", "y"]) {
            usable(&path, code);
        }
    });
}

#[test]
fn no_table_and_no_change_of_it_upsets_the_reader() {
    replay_table("a.csv", 1);
}

#[test]
fn no_text_of_columns_and_no_change_of_it_upsets_the_reader() {
    replay_table("a.txt", 3);
}

/// Header, index and channel files of a sound exchange folder; the one named is tried with other contents.
fn replay_exchange(changed: &str, seeds: &[&[u8]], draws_seed: u64) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("Channel")).unwrap();
    let times = b"Unit :ms\nTime of first sample :0\nSampling interval :1\n0\n1\n";
    for (name, bytes) in [
        ("a.mme", HEADERS[0]),
        ("Channel/a.chn", INDEXES[0]),
        ("Channel/a.001", FILES[0]),
        ("Channel/a.002", times),
    ] {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let path = folder.path().join("a.mme");
    read(&path, "10CVEHCG0000ACX0", None).unwrap();
    replay(seeds, draws_seed, |bytes| {
        std::fs::write(folder.path().join(changed), bytes).unwrap();
        for code in list(&path).unwrap_or_default().iter().map(String::as_str).chain(["10CVEHCG0000ACX0"]) {
            usable(&path, code);
        }
    });
}

#[test]
fn no_test_header_and_no_change_of_it_upsets_the_reader() {
    replay_exchange("a.mme", &HEADERS, 2);
}

#[test]
fn no_channel_index_and_no_change_of_it_upsets_the_reader() {
    replay_exchange("Channel/a.chn", &INDEXES, 4);
}

#[test]
fn no_channel_file_and_no_change_of_it_upsets_the_reader() {
    replay_exchange("Channel/a.001", &FILES, 5);
}
