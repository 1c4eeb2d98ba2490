//! How numbers reach text and JSON: every output goes through here.

/// What is less is shown as zero: a network solution does not tell it from zero.
const NOTHING: f64 = 1e-12;

/// A value with its unit: volts to a hundredth of a volt, everything else to three significant digits, small values with
/// a prefix (`21.3 mV`, `4.05 mohm`).
pub fn with_unit(value: f64, unit: &str) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let magnitude = value.abs();
    if unit == "V" && !(NOTHING..0.1).contains(&magnitude) {
        return format!("{} V", fixed(value, 2));
    }
    if let "paths" | "inhibits" = unit {
        let unit = if value == 1.0 { unit.trim_end_matches('s') } else { unit };
        return format!("{value:.0} {unit}");
    }
    if unit == "%" {
        return format!("{} %", significant(value, 3));
    }
    // No model of a bundle is good to a tenth of a kelvin.
    if unit == "degC" {
        return format!("{} degC", fixed(value, 0));
    }
    with_prefix(value, unit)
}

/// A value in three significant digits, with the prefix that keeps them short: `111 mV`, `4.05 mohm`.
pub fn with_prefix(value: f64, unit: &str) -> String {
    let text = prefixed(value);
    match text.contains(' ') {
        true => text + unit,
        false => format!("{text} {unit}"),
    }
}

/// Three significant digits with a prefix that keeps them short: `19.2 m`, `5.78`, `10.0 M`. What is below 1e-12 is zero.
pub fn prefixed(value: f64) -> String {
    // Rounding may carry into the next prefix (999.7 µ → 1.00 m), so the prefix is that of the rounded value.
    let rounded: f64 = format!("{:.2e}", value.abs()).parse().unwrap_or(value.abs());
    let (scale, prefix) = match rounded {
        m if m < NOTHING => return "0".to_owned(),
        m if m < 1e-9 => (1e12, " p"),
        m if m < 1e-6 => (1e9, " n"),
        m if m < 1e-3 => (1e6, " µ"),
        m if m < 1.0 => (1e3, " m"),
        m if m < 1e4 => (1.0, ""),
        m if m < 1e6 => (1e-3, " k"),
        m if m < 1e9 => (1e-6, " M"),
        _ => (1e-9, " G"),
    };
    significant(value * scale, 3) + prefix
}

/// Two values of one unit in enough digits to tell them apart.
pub fn pair(value: f64, limit: f64, unit: &str) -> (String, String) {
    let (a, b) = (in_scale_of(value, limit, unit), with_unit(limit, unit));
    if a != b || value == limit {
        return (a, b);
    }
    for decimals in 3..=9 {
        let (a, b) = (fixed(value, decimals), fixed(limit, decimals));
        if a != b {
            return (format!("{a} {unit}"), format!("{b} {unit}"));
        }
    }
    (a, b)
}

/// A value in the prefix of another where that has one: `0.3 µV` beside `300 µV`.
fn in_scale_of(value: f64, other: f64, unit: &str) -> String {
    let scale = match with_unit(other, unit).rsplit_once(' ').map(|(_, word)| word.strip_suffix(unit).unwrap_or(word).to_owned()) {
        Some(prefix) if prefix == "m" => 1e3,
        Some(prefix) if prefix == "µ" => 1e6,
        _ => return with_unit(value, unit),
    };
    let word = if scale == 1e3 { "m" } else { "µ" };
    match value.abs() * scale {
        small if small < 1.0 => format!("{} {word}{unit}", plain((value * scale * 1e3).round() / 1e3)),
        large if large >= 1e4 => with_unit(value, unit),
        _ => format!("{} {word}{unit}", significant(value * scale, 3)),
    }
}

/// A fixed number of decimals, without a negative zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A number of significant digits, never in powers of ten below a million; what is below 1e-9 is zero.
pub fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    if value.abs() < 1e-9 {
        return "0".to_owned();
    }
    // Rounding may carry into the next decade (9.996 → 10.0), so the decade is that of the rounded value.
    let decade = |v: f64| v.abs().log10().floor() as i32;
    let scale = 10f64.powi(digits - 1 - decade(value));
    let rounded = (value * scale).round() / scale;
    let decimals = (digits - 1 - decade(rounded)).max(0) as usize;
    fixed(value, decimals)
}

/// A number as it was given: four significant digits at most, no zeros after the last of them.
pub fn plain(value: f64) -> String {
    let text = significant(value, 4);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A distance to a limit in the decimals of the limit, unless that would hide which side it lies on.
pub fn margin(value: f64, limit: f64, unit: &str) -> String {
    let rounded = fixed(value, 2);
    if unit == "degC" {
        return format!("{} K", significant(value, 2));
    }
    let tells = value == 0.0 || rounded.chars().any(|c| c.is_ascii_digit() && c != '0');
    if unit == "V" && limit.abs() >= 0.1 && tells { format!("{rounded} V") } else { with_unit(value, unit) }
}

/// A number for JSON: nine significant digits, so that the last bits of a computation do not show; `None` unless finite.
pub fn json(value: f64) -> Option<f64> {
    if !value.is_finite() {
        return None;
    }
    if value.abs() < 1e-15 {
        return Some(0.0);
    }
    format!("{value:.8e}").parse().ok()
}

/// A count with thousands apart: `1,914`.
pub fn count(n: usize) -> String {
    let digits = n.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// `1 finding`, `2 findings`, `no findings`.
pub fn counted(n: usize, singular: &str) -> String {
    match n {
        0 => format!("no {singular}s"),
        1 => format!("1 {singular}"),
        _ => format!("{} {singular}s", count(n)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_with_units() {
        for (value, unit, text) in [
            (1.3081, "V", "1.31 V"),
            (24.5, "V", "24.50 V"),
            (0.02134, "V", "21.3 mV"),
            (-2.1e-5, "V", "-21.0 µV"),
            (0.0, "V", "0.00 V"),
            (0.00405, "ohm", "4.05 mohm"),
            (2.3456, "A", "2.35 A"),
            (1234.6, "W", "1235 W"),
            (1e7, "ohm", "10.0 Mohm"),
            (1e-9, "A", "1.00 nA"),
            (9.9996e-4, "A", "1.00 mA"),
            (1e-13, "A", "0 A"),
            (-1e-13, "V", "0.00 V"),
            (f64::NAN, "V", "–"),
            (1.0, "paths", "1 path"),
            (0.0, "paths", "0 paths"),
        ] {
            assert_eq!(with_unit(value, unit), text);
        }
    }

    #[test]
    fn two_values_that_differ_look_different() {
        assert_eq!(pair(1.0004, 1.0, "V"), ("1.0004 V".to_owned(), "1.0000 V".to_owned()));
        assert_eq!(pair(1.2, 1.0, "V"), ("1.20 V".to_owned(), "1.00 V".to_owned()));
        assert_eq!(pair(1.0, 1.0, "V"), ("1.00 V".to_owned(), "1.00 V".to_owned()));
        assert_eq!(pair(0.0, 3e-4, "V"), ("0 µV".to_owned(), "300 µV".to_owned()));
        assert_eq!(pair(4.2e-7, 3e-4, "V"), ("0.42 µV".to_owned(), "300 µV".to_owned()));
        assert_eq!(pair(1.2e-3, 3e-4, "V"), ("1200 µV".to_owned(), "300 µV".to_owned()));
        assert_eq!(pair(1.2, 0.989, "m"), ("1200 mm".to_owned(), "989 mm".to_owned()));
        assert_eq!(pair(33.0, 0.05, "V"), ("33.00 V".to_owned(), "50.0 mV".to_owned()));
    }

    #[test]
    fn significant_digits_carry() {
        assert_eq!(significant(9.996, 3), "10.0");
        assert_eq!(significant(0.00012345, 3), "0.000123");
        assert_eq!(significant(1e-12, 3), "0");
        assert_eq!(significant(-4.5678, 3), "-4.57");
        assert_eq!(fixed(-0.0001, 2), "0.00");
    }

    #[test]
    fn numbers_as_given_and_margins() {
        assert_eq!((plain(200.0), plain(1.27), plain(14.314), plain(0.0)), ("200".into(), "1.27".into(), "14.31".into(), "0".into()));
        assert_eq!(margin(-0.062, 1.0, "V"), "-0.06 V");
        assert_eq!(margin(-0.0004, 1.0, "V"), "-400 µV");
        assert_eq!(margin(0.0, 1.0, "V"), "0.00 V");
        assert_eq!(margin(0.0123, 0.05, "V"), "12.3 mV");
        assert_eq!(margin(2.5, 5.0, "A"), "2.50 A");
    }

    #[test]
    fn json_numbers_are_finite_and_rounded() {
        assert_eq!(json(f64::INFINITY), None);
        assert_eq!(json(0.1 + 0.2), Some(0.3));
        assert_eq!(json(1e-17), Some(0.0));
    }

    #[test]
    fn counts() {
        assert_eq!((count(1914), count(12), count(1_000_000)), ("1,914".into(), "12".into(), "1,000,000".into()));
        assert_eq!((counted(0, "finding"), counted(1, "finding")), ("no findings".into(), "1 finding".into()));
    }
}
