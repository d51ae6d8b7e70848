//! The wall clock as RFC 3339 text, for the day book's lines only.

use std::time::{SystemTime, UNIX_EPOCH};

/// `time` in UTC to the millisecond; times before 1970 read as its start.
pub(crate) fn rfc3339(time: SystemTime) -> String {
    let since = time.duration_since(UNIX_EPOCH).unwrap_or_default();
    let (seconds, millis) = (since.as_secs(), since.subsec_millis());
    let (year, month, day) = date(seconds / 86_400);
    let (hour, minute, second) = (seconds / 3600 % 24, seconds / 60 % 60, seconds % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{millis:03}Z")
}

/// Year, month and day of a day counted from 1970-01-01, in the Gregorian calendar. Years run from March inside, so
/// that the leap day comes last.
fn date(days: u64) -> (u64, u64, u64) {
    let from_march_0 = days + 719_468;
    let era = from_march_0 / 146_097;
    let of_era = from_march_0 % 146_097;
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted = (5 * of_year + 2) / 153;
    let day = of_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
    (era * 400 + year_of_era + u64::from(month <= 2), month, day)
}

#[cfg(test)]
mod tests {
    use super::rfc3339;
    use std::time::{Duration, UNIX_EPOCH};

    #[test]
    fn known_instants() {
        let told = |seconds| rfc3339(UNIX_EPOCH + Duration::from_millis(seconds));
        assert_eq!(told(0), "1970-01-01T00:00:00.000Z");
        assert_eq!(told(951_782_400_000), "2000-02-29T00:00:00.000Z");
        assert_eq!(told(1_735_689_599_999), "2024-12-31T23:59:59.999Z");
    }
}
