//! Exchange folders and tables: what is written comes back, and broken folders are answered in words.

#![expect(clippy::unwrap_used, reason = "a test may stop at once")]

use filmgauge_sensors::{
    Channel, ExchangeTest, SensorsError, TestObject, list, read, to_si, write_csv, write_exchange,
};
use std::path::{Path, PathBuf};

fn channel(code: &str, unit: &str) -> Channel {
    Channel {
        code: code.to_owned(),
        unit: unit.to_owned(),
        start_s: -0.01,
        step_s: 0.0001,
        values: (0..3001).map(|i| (f64::from(i) * 0.01).sin() / 3.0).collect(),
        file: PathBuf::new(),
        comments: vec!["bay 3".to_owned()],
        steps: Vec::new(),
    }
}

fn test() -> ExchangeTest {
    ExchangeTest {
        name: "HB-014".to_owned(),
        title: "Hatchback into a parked sweeper".to_owned(),
        kind: "frontal impact".to_owned(),
        date: None,
        comments: vec!["made by rehearsal".to_owned()],
        objects: vec![TestObject { name: "car".to_owned(), speed_m_s: Some(14.444), mass_kg: Some(1180.0) }],
    }
}

fn written(dir: &Path) -> PathBuf {
    let channels = [channel("10CVEHCG0000ACXP", "g"), channel("10CVEHCG0000ACZP", "m/s2")];
    write_exchange(dir, &test(), &channels).unwrap()
}

#[test]
fn an_exchange_folder_comes_back_bit_for_bit() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    assert_eq!(list(&path).unwrap(), ["10CVEHCG0000ACXP", "10CVEHCG0000ACZP"]);
    let back = read(&path, "10CVEHCG0000ACXP", None).unwrap();
    assert_eq!(back.values, channel("", "").values);
    assert_eq!((back.unit.as_str(), back.comments.as_slice()), ("g", &["Comments: bay 3".to_owned()][..]));
    assert!((back.end_s() - 0.29).abs() < 1e-12);
    assert!(back.file.ends_with("Channel/HB-014.001"));
    let header = std::fs::read_to_string(&path).unwrap();
    assert!(header.contains("Date of the test            :NOVALUE\r\n"), "{header}");
}

#[test]
fn the_same_channels_give_the_same_bytes() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    written(one.path());
    written(two.path());
    for name in ["HB-014.mme", "Channel/HB-014.chn", "Channel/HB-014.001", "Channel/HB-014.002"] {
        assert_eq!(
            std::fs::read(one.path().join(name)).unwrap(),
            std::fs::read(two.path().join(name)).unwrap()
        );
    }
}

#[test]
fn names_in_another_case_are_found() {
    let folder = tempfile::tempdir().unwrap();
    written(folder.path());
    std::fs::rename(folder.path().join("Channel"), folder.path().join("CHANNEL")).unwrap();
    std::fs::rename(folder.path().join("HB-014.mme"), folder.path().join("HB-014.MME")).unwrap();
    let index = folder.path().join("CHANNEL/HB-014.chn");
    std::fs::rename(index, folder.path().join("CHANNEL/hb-014.CHN")).unwrap();
    assert!(read(&folder.path().join("HB-014.MME"), "10cvehcg0000aczp", None).is_ok());
}

#[test]
fn a_table_comes_back_bit_for_bit() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deck.csv");
    write_csv(&path, &[channel("deck_ax_g", "g"), channel("deck_az", "m/s2")]).unwrap();
    assert_eq!(list(&path).unwrap(), ["deck_ax_g", "deck_az"]);
    let back = read(&path, "deck_az", None).unwrap();
    assert_eq!((back.values, back.unit), (channel("", "").values, "m/s2".to_owned()));
    assert!((back.start_s + 0.01).abs() < 1e-12 && (back.step_s - 0.0001).abs() < 1e-12);
}

#[test]
fn a_given_unit_goes_first_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let taken = read(&path, "10CVEHCG0000ACZP", Some("g")).unwrap();
    assert_eq!(taken.unit, "g");
    assert!(taken.steps[0].contains("m/s2"));
    assert!(read(&path, "10CVEHCG0000ACXP", Some("g")).unwrap().steps.is_empty());
    assert_eq!(to_si(&taken).unwrap().unit, "m/s2");
}

#[test]
fn broken_folders_are_answered_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    let message = |path: &Path, code: &str| read(path, code, None).unwrap_err().to_string();
    let unknown = message(&path, "10CVEHCG0000ACYP");
    assert!(unknown.contains("the file holds: 10CVEHCG0000ACXP, 10CVEHCG0000ACZP"), "{unknown}");
    std::fs::remove_file(folder.path().join("Channel/HB-014.002")).unwrap();
    let gone = message(&path, "10CVEHCG0000ACZP");
    assert!(gone.contains("HB-014.002") && gone.contains("is missing"), "{gone}");
    let index = folder.path().join("Channel/HB-014.chn");
    std::fs::write(
        &index,
        "Name of channel 001 :10CVEHCG0000ACXP\nName of channel 002 :10CVEHCG0000ACXP / again\n",
    )
    .unwrap();
    assert!(message(&path, "10CVEHCG0000ACXP").contains("listed twice"));
    std::fs::write(&index, "Number of channels :0\n").unwrap();
    assert!(message(&path, "10CVEHCG0000ACXP").contains("lists no channels"));
    std::fs::remove_file(&index).unwrap();
    assert!(message(&path, "10CVEHCG0000ACXP").contains("HB-014.chn"));
    std::fs::remove_dir_all(folder.path().join("Channel")).unwrap();
    assert!(message(&path, "10CVEHCG0000ACXP").contains("no folder \"Channel\""));
    assert!(matches!(read(&folder.path().join("a.doc"), "x", None), Err(SensorsError::Kind { .. })));
    assert!(matches!(read(&folder.path().join("a.mme"), "x", None), Err(SensorsError::Disk { .. })));
}

#[test]
fn what_cannot_be_written_is_refused_before_writing() {
    let folder = tempfile::tempdir().unwrap();
    let sound = channel("10CVEHCG0000ACXP", "g");
    for name in ["", "..", "a/b", "a b"] {
        let test = ExchangeTest { name: name.to_owned(), ..test() };
        assert!(write_exchange(folder.path(), &test, std::slice::from_ref(&sound)).is_err());
    }
    assert!(write_exchange(folder.path(), &test(), &[]).is_err());
    assert!(write_exchange(folder.path(), &test(), &[sound.clone(), sound.clone()]).is_err());
    assert!(write_exchange(folder.path(), &test(), &[channel("short", "g")]).is_err());
    let shifted = Channel { code: "b".to_owned(), start_s: 0.0, ..sound.clone() };
    let table = folder.path().join("a.csv");
    assert!(write_csv(&table, &[sound.clone(), shifted]).unwrap_err().to_string().contains("do not share"));
    assert!(write_csv(&table, &[]).is_err());
    let broken = Channel { values: vec![1.0, f64::NAN], ..sound };
    assert!(write_csv(&table, &[broken]).is_err());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// A folder whose second channel holds the times of the first.
fn with_times(dir: &Path, times: &str, unit: &str, reference: &str) -> PathBuf {
    let folder = dir.join("Channel");
    std::fs::create_dir_all(&folder).unwrap();
    let path = dir.join("HB-014.mme");
    std::fs::write(&path, "Title :x\n").unwrap();
    std::fs::write(
        folder.join("HB-014.chn"),
        "Name of channel 001 :10CVEHCG0000ACX\nName of channel 002 :10TIMECG0000TI00\n",
    )
    .unwrap();
    let head = format!("Unit :g\nReference channel :explicit\n{reference}\n");
    std::fs::write(folder.join("HB-014.001"), format!("{head}1\n2\n3\n")).unwrap();
    let head = format!("Unit :{unit}\nTime of first sample :0\nSampling interval :1\n");
    std::fs::write(folder.join("HB-014.002"), format!("{head}{times}")).unwrap();
    path
}

#[test]
fn explicit_times_come_from_the_channel_that_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let named = "Reference channel name :10TIMECG0000TI00";
    let path = with_times(folder.path(), "-1\n-0.5\n0\n", "ms", named);
    let channel = read(&path, "10CVEHCG0000ACX", None).unwrap();
    assert!((channel.start_s + 1e-3).abs() < 1e-12 && (channel.step_s - 5e-4).abs() < 1e-12);
    assert!(channel.steps[0].contains("15 characters") && channel.steps[1].contains("10TIMECG0000TI00"));
    for (times, unit, reference, word) in [
        ("-1\n-0.5\n0\n", "V", named, "not in s, ms or us"),
        ("-1\n-0.5\n", "ms", named, "3 values, but 2 times"),
        ("-1\n-0.5\n7\n", "ms", named, "off the even steps"),
        ("-1\n-0.5\n0\n", "ms", "Comments :none", "Reference channel name"),
        ("-1\n-0.5\n0\n", "ms", "Reference channel name :10CVEHCG0000ACX", "explicit times itself"),
        ("-1\n-0.5\n0\n", "ms", "Reference channel name :elsewhere", "no channel \"elsewhere\""),
    ] {
        let path = with_times(folder.path(), times, unit, reference);
        let message = read(&path, "10CVEHCG0000ACX", None).unwrap_err().to_string();
        assert!(message.contains(word), "{word}: {message}");
    }
}

#[test]
fn several_rates_in_one_folder_keep_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let slow = Channel { step_s: 0.001, ..channel("10CVEHCG0000ACYP", "g") };
    let path = write_exchange(folder.path(), &test(), &[channel("10CVEHCG0000ACXP", "g"), slow]).unwrap();
    assert!((read(&path, "10CVEHCG0000ACXP", None).unwrap().step_s - 0.0001).abs() < 1e-15);
    assert!((read(&path, "10CVEHCG0000ACYP", None).unwrap().step_s - 0.001).abs() < 1e-15);
}

#[test]
fn a_broken_channel_leaves_the_others_readable() {
    let folder = tempfile::tempdir().unwrap();
    let path = written(folder.path());
    std::fs::write(folder.path().join("Channel/HB-014.001"), [0_u8, 159, 146, 150]).unwrap();
    assert!(read(&path, "10CVEHCG0000ACXP", None).unwrap_err().to_string().contains("is no text"));
    assert!(read(&path, "10CVEHCG0000ACZP", None).is_ok());
}
