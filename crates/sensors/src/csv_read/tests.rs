//! Tables as laboratories write them, sound and broken.

use super::*;

fn with_table<T>(text: impl AsRef<[u8]>, check: impl FnOnce(&Path) -> T) -> T {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deck.csv");
    std::fs::write(&path, text).unwrap();
    check(&path)
}

fn read(text: impl AsRef<[u8]>, code: &str) -> Result<Channel, SensorsError> {
    with_table(text, |path| read_csv(path, code))
}

#[test]
fn commas_semicolons_units_rows_and_brackets_are_read() {
    for text in [
        "time_s,deck_ax_g\n-0.001,1\n0,2\n0.001,-3.5\n",
        "\u{feff}# a comment\ntime_s,deck_ax_g\ns,g\n-0.001,1\n0,2\n0.001,-3.5\n",
        "Time (ms);other;deck_ax_g\n-1;9;1,0\n0;9;2,0\n1;9;-3,5\n",
        "time;deck_ax_g [g]\r\n-0.001;1\r\n0;2\r\n0.001;-3.5\r\n\r\n",
        "t,deck_ax_g\n-0.001,1\n0,2\n0.001,-3.5\n",
        "time_ms,\"deck_ax_g\"\n-1,1\n0,2\n1,-3.5\n",
    ] {
        let channel = read(text, "deck_ax_g").unwrap();
        assert_eq!(channel.values, [1.0, 2.0, -3.5], "{text}");
        assert!((channel.start_s + 0.001).abs() < 1e-15 && (channel.step_s - 0.001).abs() < 1e-15, "{text}");
    }
    let bracket = read("time;ax [m/s²]\n0;1\n1;2\n", "ax").unwrap();
    assert_eq!(bracket.unit, "m/s²");
    let row = read("# bay 3\ntime_s,a\ns,g\n0,1\n1,2\n", "a").unwrap();
    assert_eq!((row.unit.as_str(), row.comments), ("g", vec!["bay 3".to_owned()]));
}

#[test]
fn latin_1_tables_are_read() {
    let channel = read(b"time_s;q [\xb0/s]\n0;1\n1;2\n", "q").unwrap();
    assert_eq!(channel.unit, "°/s");
}

#[test]
fn headers_are_listed_and_a_wrong_one_is_answered_with_the_list() {
    with_table("time_s,ax,az\n0,1,2\n1,2,3\n", |path| {
        assert_eq!(list_csv(path).unwrap(), ["ax", "az"]);
        assert!(read_csv(path, "ay").unwrap_err().to_string().ends_with("the file holds: ax, az"));
    });
}

#[test]
fn broken_tables_say_what_and_where() {
    for (text, words) in [
        ("time_s,ax\n0,1\n0.1,two\n0.2,3\n", "line 3: column \"ax\": \"two\""),
        ("time_s,ax\n0,1\n0.1,\n0.2,3\n", "line 3: column \"ax\": a value is missing"),
        ("time_s,ax\n0,1\n0.1,NaN\n0.2,3\n", "line 3: column \"ax\": \"NaN\""),
        ("time_s,ax\n0,1\n0.1,2\n0.05,3\n", "line 4: time 0.05 follows 0.1"),
        ("time_s,ax\n0,1\n0.1,2\n0.1,3\n", "line 4: time 0.1 follows 0.1"),
        ("time_s,ax\n0,1\n0.1,2\n0.2,3\n0.4,4\n", "line 5: time 0.4 is off the even steps"),
        ("time_s,ax\n0,1\n0.1,2\n0.21,3\n0.3,4\n0.4,4\n", "line 4: time 0.21 is off"),
        ("time_s,ax\n0,1\n", "1 rows"),
        ("time_s,ax\n", "0 rows"),
        ("time_s,ax\nx,1\n0.1,2\n", "line 2: column \"time_s\": \"x\""),
        ("time_s,ax\n0,1\n0.1,2,7\n", "line 3: 3 cells, the header has 2"),
        ("time_s,ax,ax\n0,1,1\n0.1,2,2\n", "two columns"),
        ("frame,ax\n0,1\n1,2\n", "no column is headed"),
        ("time [min],ax\n0,1\n1,2\n", "\"min\""),
        ("# nothing\n", "no row of headers"),
        ("\n\n", "is empty"),
    ] {
        let message = read(text, "ax").unwrap_err().to_string();
        assert!(message.contains(words) && message.contains("deck.csv"), "{text}: {message}");
    }
}

#[test]
fn columns_apart_by_blanks_are_a_table_with_or_without_headers() {
    let folder = tempfile::tempdir().unwrap();
    for (text, code) in [
        ("# run 3\r\n -0.01  1.5\r\n 0.00\t2.5\r\n0.01 -3\r\n", "y"),
        ("time_s ax\ns g\n-0.01 1.5\n0 2.5\n0.01 -3\n", "ax"),
    ] {
        let path = folder.path().join("deck.txt");
        std::fs::write(&path, text).unwrap();
        let channel = read_csv(&path, code).unwrap();
        assert_eq!(channel.values, [1.5, 2.5, -3.0]);
        assert!((channel.start_s + 0.01).abs() < 1e-12 && (channel.step_s - 0.01).abs() < 1e-12);
        assert_eq!(list_csv(&path).unwrap(), [code]);
    }
    let path = folder.path().join("bad.xy");
    std::fs::write(&path, "0 1\n0.1 2\n0.2 x\n").unwrap();
    let message = read_csv(&path, "y").unwrap_err().to_string();
    assert!(message.contains("bad.xy, line 3") && message.contains("\"x\""), "{message}");
    std::fs::write(&path, "0 1\n0.1 2\n0.2\n").unwrap();
    let message = read_csv(&path, "y").unwrap_err().to_string();
    assert!(message.contains("bad.xy, line 3: 1 cells"), "{message}");
}

proptest::proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..200)) {
        let _ = read(&bytes, "ax");
    }

    #[test]
    fn no_table_like_text_makes_the_reader_panic(body in "time_s,ax\n([0-9.,;ms#\"\n-]{0,80})") {
        let _ = read(&body, "ax");
    }
}
