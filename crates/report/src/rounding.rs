//! Rounding for people: a value is printed to two significant digits of its uncertainty (JCGM 100, 7.2.6).

/// The power of ten of the last digit worth printing when `u` keeps two significant digits; `None` for zero.
pub(crate) fn last_place(u: f64) -> Option<i32> {
    if u == 0.0 || !u.is_finite() {
        return None;
    }
    // Rounding to two digits first: 0.0999 becomes 0.10 and keeps its second digit.
    let exponent = format!("{u:.1e}").split_once('e')?.1.parse::<i32>().ok()?;
    Some(exponent - 1)
}

/// `value` rounded to the power of ten `place`, in plain decimals, with no minus sign before zero.
pub(crate) fn at_place(value: f64, place: i32) -> String {
    let text = if place <= 0 {
        format!("{value:.*}", usize::try_from(-place).unwrap_or(0))
    } else {
        let unit = 10_f64.powi(place);
        format!("{:.0}", (value / unit).round() * unit)
    };
    without_minus_zero(text)
}

/// `value` to `digits` significant digits, in plain decimals.
pub(crate) fn significant(value: f64, digits: i32) -> String {
    match last_place(value) {
        None => "0".to_owned(),
        Some(second) => at_place(value, second + 2 - digits),
    }
}

/// The shortest text that keeps nine significant digits: what the CSV files hold. Never a minus zero.
pub(crate) fn nine_digits(value: f64) -> String {
    let kept = format!("{value:.8e}").parse::<f64>().unwrap_or(value);
    if kept == 0.0 {
        "0".to_owned()
    } else if (1e-6..1e12).contains(&kept.abs()) {
        format!("{kept}")
    } else {
        format!("{kept:e}")
    }
}

fn without_minus_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_of_the_uncertainty() {
        // JCGM 100:2008, 7.2.6: 10.057 62 ohm with u = 27 milliohm is given as 10.058 ohm.
        assert_eq!(at_place(10.057_62, last_place(0.027).unwrap()), "10.058");
        assert_eq!(at_place(0.0999, last_place(0.0999).unwrap()), "0.10");
        assert_eq!(at_place(1234.0, last_place(234.0).unwrap()), "1230");
        assert_eq!(at_place(-0.0004, last_place(0.027).unwrap()), "0.000");
        assert_eq!(last_place(0.0), None);
    }

    #[test]
    fn significant_digits_without_an_uncertainty() {
        assert_eq!(significant(14.4444, 4), "14.44");
        assert_eq!(significant(-0.001_234_56, 3), "-0.00123");
        assert_eq!(significant(0.0, 3), "0");
    }

    #[test]
    fn csv_numbers_are_short_and_plain() {
        assert_eq!(nine_digits(0.1), "0.1");
        assert_eq!(nine_digits(-0.0), "0");
        assert_eq!(nine_digits(1_203.412_345_678_9), "1203.41235");
        assert_eq!(nine_digits(1.25e-9), "1.25e-9");
        assert_eq!(nine_digits(70.0), "70");
    }
}
