//! What people write in a cell of a wire list, in the words of a vehicle's files; or why it cannot be read.

use crate::quantity::{self, Fault, Quantity, Unit};
use physics::gauge::Awg;

/// Words that stand in place of a value, each with a meaning of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Special {
    /// Nothing, or a dash: nothing is said.
    Blank,
    /// `TBD`: somebody will say.
    Open,
    /// `N/A`: there is nothing to say.
    NotApplicable,
    /// `?`: somebody was in doubt, and did not say what follows from it.
    Doubt,
}

/// The special word that a cell is, if it is one.
pub(crate) fn special(text: &str) -> Option<Special> {
    let folded = text.trim().to_lowercase();
    match folded.as_str() {
        "" => Some(Special::Blank),
        "tbd" | "t.b.d." | "tbd." | "to be determined" => Some(Special::Open),
        "n/a" | "na" | "n.a." | "n.a" | "not applicable" => Some(Special::NotApplicable),
        _ if folded.chars().all(|c| matches!(c, '-' | '–' | '—' | '_')) => Some(Special::Blank),
        _ if folded.chars().all(|c| c == '?') => Some(Special::Doubt),
        _ => None,
    }
}

/// How the list writes its numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Decimal {
    /// `1,234.5`
    Point,
    /// `1.234,5`
    Comma,
}

/// A value as a vehicle's files have it, and what had to be done to its text; empty if nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Read {
    pub(crate) text: String,
    pub(crate) what: &'static str,
}

fn read(text: impl Into<String>, what: &'static str) -> Read {
    Read { text: text.into(), what }
}

/// `TBC` before or behind a value, and the value.
fn confirm(text: &str) -> (bool, &str) {
    let text = text.trim();
    let folded = text.to_lowercase();
    if folded.len() == text.len() {
        if folded.starts_with("tbc") && !folded[3..].starts_with(char::is_alphanumeric) {
            return (true, text[3..].trim_matches(|c: char| c.is_whitespace() || matches!(c, ':' | '(' | ')')));
        }
        for end in ["(tbc)", "[tbc]", "tbc"] {
            if folded.ends_with(end) && folded.len() > end.len() {
                return (true, text[..text.len() - end.len()].trim());
            }
        }
    }
    (false, text)
}

/// A gauge: `22`, `22AWG`, `#22`, `AWG 22`, `22 ga`, `1/0`.
pub(crate) fn gauge(text: &str) -> Result<Read, String> {
    let (confirm, rest) = confirm(text);
    let folded = rest.to_lowercase();
    let mut number = folded.as_str();
    for before in ["awg", "#", "no.", "no ", "gauge", "ga."] {
        number = number.strip_prefix(before).unwrap_or(number).trim_start();
    }
    for behind in ["awg", "gauge", "gage", "ga.", "ga", "#"] {
        number = number.strip_suffix(behind).unwrap_or(number).trim_end();
    }
    // What a spreadsheet program writes of the number 22 with a format of its own.
    let whole =
        number.split_once(['.', ',']).filter(|(_, part)| !part.is_empty() && part.bytes().all(|b| b == b'0')).map_or(number, |(n, _)| n);
    let Some(gauge) = Awg::parse(whole) else {
        let hint = if folded.contains("mm") { "; a cross-section is no gauge, and none is made of it" } else { "" };
        return Err(format!("cannot be read as a gauge (4/0 to 40 AWG){hint}"));
    };
    let mark = if confirm { "TBC " } else { "" };
    Ok(read(format!("{mark}{gauge} AWG"), if rest == gauge.to_string() && !confirm { "" } else { "gauge in other words" }))
}

/// A length or current in the unit of its head, or with its own.
pub(crate) fn number(text: &str, quantity: Quantity, unit: Option<&Unit>, decimal: Decimal) -> Result<Read, String> {
    let (confirm, rest) = confirm(text);
    let mark = if confirm { "TBC " } else { "" };
    let said = |text: String, what: &'static str| {
        Ok(read(format!("{mark}{text}"), if confirm && what.is_empty() { "TBC behind the value" } else { what }))
    };
    if quantity == Quantity::Length
        && let Some(inches) = feet_and_inches(rest)
    {
        return said(inches, "feet and inches");
    }
    let (digits, word) = split(rest);
    let Some((plain, changed)) = plain_number(digits, decimal) else {
        return Err(format!("cannot be read as {}", quantity.title()));
    };
    let unit = match word {
        "" => unit.ok_or("has no unit".to_owned())?,
        word => known_unit(word, quantity)
            .ok_or_else(|| format!("has {word:?} where a unit of {} is expected", quantity.title().trim_start_matches("a ")))?,
    };
    let changed = if changed.is_empty() && !word.is_empty() && quantity.unit(word).is_none() { "unit in other words" } else { changed };
    let mended = format!("{plain} {}", unit.word);
    match quantity::parse(&mended, quantity) {
        Ok(_) => said(mended, changed),
        Err(fault) => Err(quantity::explain(&fault, &mended, quantity).0),
    }
}

/// A unit as people spell it.
fn known_unit(word: &str, quantity: Quantity) -> Option<&'static Unit> {
    let folded = word.trim_end_matches('.').to_lowercase();
    let usual = match (quantity, folded.as_str()) {
        (Quantity::Length, "meter" | "meters" | "metre" | "metres" | "mtr") => "m",
        (Quantity::Length, "inch" | "inches" | "ins" | "\"" | "''" | "”" | "″") => "in",
        (Quantity::Length, "feet" | "foot" | "'" | "’" | "′") => "ft",
        (Quantity::Current, "amp" | "amps" | "ampere" | "amperes") => "A",
        (Quantity::Current, "milliamp" | "milliamps") => "mA",
        _ => word,
    };
    // `M` and `MM` are how a list in capitals writes metres; no unit of length or current differs from another in case alone.
    quantity.unit(usual).or_else(|| quantity.units().iter().find(|u| u.word.to_lowercase() == folded))
}

/// `12' 6"` in inches.
fn feet_and_inches(text: &str) -> Option<String> {
    let (feet, rest) = text.split_once(['\'', '’', '′']).or_else(|| text.split_once("ft"))?;
    let rest = rest.trim().trim_start_matches('-').trim();
    let inches = rest.strip_suffix(['"', '”', '″']).or_else(|| rest.strip_suffix("''")).or_else(|| rest.strip_suffix("in"))?;
    let (feet, inches): (f64, f64) = (feet.trim().parse().ok()?, inches.trim().parse().ok()?);
    (feet >= 0.0 && (0.0..12.0).contains(&inches)).then(|| format!("{} in", feet * 12.0 + inches))
}

/// Splits a number with any separators from what follows.
fn split(text: &str) -> (&str, &str) {
    let end = text
        .char_indices()
        .find(|(at, c)| {
            !(c.is_ascii_digit()
                || matches!(c, '.' | ',' | '\u{a0}' | '\u{202f}')
                || (*at == 0 && matches!(c, '+' | '-'))
                || is_grouping_blank(text, *at, *c))
        })
        .map_or(text.len(), |(at, _)| at);
    let (mut number, mut rest) = text.split_at(end);
    // `1.2E3` is how a spreadsheet program writes a large number.
    if let Some(power) = rest.strip_prefix(['e', 'E']) {
        let digits = power.trim_start_matches(['+', '-']).bytes().take_while(u8::is_ascii_digit).count();
        if digits > 0 {
            let all = end + 1 + (power.len() - power.trim_start_matches(['+', '-']).len()) + digits;
            (number, rest) = text.split_at(all);
        }
    }
    (number.trim(), rest.trim())
}

/// A blank between groups of three digits.
fn is_grouping_blank(text: &str, at: usize, c: char) -> bool {
    let digits = text[at + c.len_utf8()..].bytes().take_while(u8::is_ascii_digit).count();
    c == ' ' && text[..at].ends_with(|c: char| c.is_ascii_digit()) && digits == 3
}

/// The number without separators of thousands and with a decimal point, and what was done to it.
fn plain_number(text: &str, decimal: Decimal) -> Option<(String, &'static str)> {
    let (point, thousands) = match decimal {
        Decimal::Point => ('.', ','),
        Decimal::Comma => (',', '.'),
    };
    let blank = |c: char| matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\'');
    let (whole, part) = text.split_once(point).map_or((text, None), |(whole, part)| (whole, Some(part)));
    if part.is_some_and(|part| part.contains(thousands) || part.contains(blank)) {
        return None;
    }
    let mut changed = "";
    let mut groups = whole.split(|c| c == thousands || blank(c));
    let mut number = groups.next().unwrap_or("").to_owned();
    for group in groups {
        if group.len() != 3 {
            return None;
        }
        changed = "separator of thousands";
        number.push_str(group);
    }
    if let Some(part) = part {
        number.push('.');
        number.push_str(part);
        if point == ',' {
            changed = "decimal comma";
        }
    }
    if number.starts_with('.') {
        number.insert(0, '0');
    }
    number.parse::<f64>().ok().filter(|n| n.is_finite())?;
    Some((number, changed))
}

/// What a number says of how its list writes numbers.
pub(crate) fn decimal_evidence(text: &str) -> Option<Decimal> {
    let (number, _) = split(confirm(text).1);
    let marks: Vec<(usize, char)> = number.char_indices().filter(|(_, c)| matches!(c, '.' | ',')).collect();
    let &(at, last) = marks.last()?;
    let mark = |c| if c == ',' { Decimal::Comma } else { Decimal::Point };
    let other = |c| if c == ',' { Decimal::Point } else { Decimal::Comma };
    let behind = number.len() - at - 1;
    let before = number[..at].trim_start_matches(['+', '-']);
    if marks.iter().any(|(_, c)| *c != last) {
        return Some(mark(last));
    }
    if marks.len() > 1 {
        return Some(other(last));
    }
    (behind != 3 || before.is_empty() || before.starts_with('0') || before.len() > 3).then(|| mark(last))
}

/// Whether a number means different things with a decimal point and with a decimal comma: `1,250`.
pub(crate) fn is_ambiguous(text: &str) -> bool {
    let (number, _) = split(confirm(text).1);
    number.contains(',') && decimal_evidence(text).is_none()
}

/// A number without a unit of its own.
pub(crate) fn is_bare_number(text: &str) -> bool {
    let (number, word) = split(confirm(text).1);
    special(text).is_none() && !number.is_empty() && word.is_empty() && feet_and_inches(text).is_none()
}

/// Whether a cell can be read as a field, for the mapping shown and for the questions about it.
pub(crate) fn fits(field: &str, text: &str) -> bool {
    if special(text).is_some() {
        return true;
    }
    let either = |quantity: Quantity| {
        [Decimal::Point, Decimal::Comma].into_iter().any(|d| number(text, quantity, Some(quantity.usual_unit()), d).is_ok())
    };
    match field {
        "gauge" => gauge(text).is_ok(),
        "length" => text.eq_ignore_ascii_case("route") || either(Quantity::Length),
        "current" => either(Quantity::Current),
        "wire" | "circuit" | "cable" => text.chars().count() <= 64,
        "from_pin" | "to_pin" => text.chars().count() <= 16,
        "from" | "to" => text.chars().any(|c| c.is_alphabetic()),
        _ => true,
    }
}

/// A gauge that is made and used: 23 or 3.2 under the head of a gauge are rather lengths.
pub(crate) fn is_usual_gauge(text: &str) -> bool {
    let number = gauge(text).ok().and_then(|read| read.text.trim_start_matches("TBC ").strip_suffix(" AWG").and_then(Awg::parse));
    number.is_some_and(|Awg(n)| n <= 2 || (n % 2 == 0 && n <= 30))
}

/// `J1`, `P12`, `A1J3`: letters with a number.
pub(crate) fn looks_like_connector(text: &str) -> bool {
    text.starts_with(|c: char| c.is_alphabetic()) && text.ends_with(|c: char| c.is_ascii_digit()) && text.chars().count() >= 2
}

/// An id as near to the cell as an id may be: blanks and forbidden signs become dashes.
pub(crate) fn id(text: &str) -> Result<Read, String> {
    let mut mended = String::new();
    for c in text.trim().chars() {
        let stays = model::name_fault(c.encode_utf8(&mut [0; 4])).is_none();
        match stays {
            true => mended.push(c),
            false if mended.ends_with('-') => {}
            false => mended.push('-'),
        }
    }
    let mended = mended.trim_matches('-');
    let mended = if mended.is_empty() || mended == text { text } else { mended };
    match model::name_fault(mended) {
        None => Ok(read(mended, if mended == text { "" } else { "an id cannot hold what stood in it" })),
        Some(fault) => Err(fault),
    }
}

/// Where a wire ends, and a part of the harness that its name declares.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct EndRead {
    pub(crate) text: String,
    pub(crate) what: &'static str,
    /// The connector, where it is a pin.
    pub(crate) connector: Option<String>,
    /// `splice`, `stud` or `ground`, and the id.
    pub(crate) point: Option<(&'static str, String)>,
}

/// Kinds of ends that a vehicle's files write with a colon.
const KINDS: [&str; 8] = ["splice", "stud", "ground", "bus", "node", "shell", "case", "branch"];

/// An end in one cell: `J1-4`, `J1.4`, `J1 pin 4`, `SP3`, `GND`, `splice:SP1`, `stowed`.
pub(crate) fn end(text: &str) -> Result<EndRead, String> {
    let text = text.trim();
    let plain = |text: &str, what| EndRead { text: text.to_owned(), what, connector: None, point: None };
    if let Some((kind, name)) = text.split_once(':')
        && let Some(kind) = KINDS.into_iter().find(|k| *k == kind)
    {
        model::name_fault(name).map_or(Ok(()), Err)?;
        let point = matches!(kind, "splice" | "stud" | "ground").then(|| (kind, name.to_owned()));
        return Ok(EndRead { point, ..plain(text, "") });
    }
    if let Some(point) = point(text)? {
        return Ok(point);
    }
    let folded = text.to_lowercase();
    let separators = |c: char| matches!(c, '.' | ':' | '/' | '-' | '(' | '_') || c.is_whitespace();
    let (connector, pin) = match folded.rfind(" pin ").filter(|_| folded.len() == text.len()) {
        Some(at) => (&text[..at], &text[at + 5..]),
        None => {
            let shut = text.strip_suffix(')').unwrap_or(text);
            let at = shut.rfind(separators).ok_or("names no pin")?;
            let behind = at + shut[at..].chars().next().map_or(1, char::len_utf8);
            (shut[..at].trim_end_matches(separators), &shut[behind..])
        }
    };
    let (connector, pin) = (connector.trim(), pin.trim());
    if pin.is_empty() || connector.is_empty() {
        return Err("names no pin".to_owned());
    }
    // `J1-4-5` could be pin 5 of J1-4 or pins 4 and 5 of J1.
    let last = connector.rsplit(separators).next().unwrap_or("");
    if !last.contains(|c: char| c.is_alphabetic()) {
        return Err("cannot be parted into connector and pin".to_owned());
    }
    let mut read = pin_of(connector, pin)?;
    read.what = match read.text == text {
        true => "",
        false if read.what.is_empty() => "pin in other words",
        false => read.what,
    };
    Ok(read)
}

/// A splice, ground point or stud, or a spare, by its name alone.
pub(crate) fn point(text: &str) -> Result<Option<EndRead>, String> {
    let folded = text.to_lowercase();
    let rest = |prefix: &str| {
        folded.strip_prefix(prefix).map(|rest| rest.trim_matches(|c: char| c.is_whitespace() || matches!(c, '-' | '_' | '.')))
    };
    let numbered = |prefix: &str| rest(prefix).is_some_and(|r| !r.is_empty() && r.bytes().all(|b| b.is_ascii_digit()));
    let kind = if numbered("splice") || numbered("spl") || numbered("sp") {
        "splice"
    } else if folded == "gnd" || folded == "ground" || folded == "chassis" || numbered("gnd") || numbered("ground") {
        "ground"
    } else if numbered("stud") {
        "stud"
    } else if ["spare", "stowed", "stow", "cap and stow", "cap & stow"].contains(&folded.as_str()) {
        let what = if folded == text && folded == "stowed" { "" } else { "a spare is stowed" };
        return Ok(Some(EndRead { text: "stowed".to_owned(), what, connector: None, point: None }));
    } else {
        return Ok(None);
    };
    let name = id(text)?.text;
    Ok(Some(EndRead {
        text: format!("{kind}:{name}"),
        what: "a splice, stud or ground point by its name",
        connector: None,
        point: Some((kind, name)),
    }))
}

/// A pin from its two cells. A pin cell that repeats its connector (`J1-4` beside `J1`) says it once.
pub(crate) fn pin_of(connector: &str, pin: &str) -> Result<EndRead, String> {
    let repeated = pin
        .strip_prefix(connector)
        .and_then(|rest| rest.strip_prefix(['.', ':', '/', '-', ' ']))
        .map(str::trim)
        .filter(|rest| !rest.is_empty());
    let (half, cavity) = (id(connector)?, id(repeated.unwrap_or(pin))?);
    let what = match repeated {
        Some(_) => "connector repeated in the pin",
        None if !half.what.is_empty() => half.what,
        None => cavity.what,
    };
    Ok(EndRead { text: format!("{}.{}", half.text, cavity.text), what, connector: Some(half.text), point: None })
}

/// A pin that a spreadsheet program has made a date of: `2-Jan` was 1-2 or 2-1.
pub(crate) fn looks_like_date(text: &str) -> bool {
    const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let folded = text.to_lowercase();
    let Some((a, b)) = folded.split_once('-') else { return false };
    let number = |t: &str| !t.is_empty() && t.len() <= 2 && t.bytes().all(|b| b.is_ascii_digit());
    (number(a) && MONTHS.contains(&b)) || (MONTHS.contains(&a) && number(b))
}

/// A part number that holds the gauge, `M22759/16-22-9`, parted into type and gauge.
pub(crate) fn type_and_gauge(text: &str) -> (String, Option<Awg>) {
    let text = text.trim();
    let text = text.strip_prefix("MIL-W-").or_else(|| text.strip_prefix("MIL-DTL-")).map_or(text.to_owned(), |rest| format!("M{rest}"));
    // `22759/16`: the letter before the number of a specification is often left out.
    let text = if text.starts_with(|c: char| c.is_ascii_digit()) && text.contains('/') { format!("M{text}") } else { text };
    match text.split_once('/') {
        Some((specification, rest)) if specification.starts_with('M') => {
            let mut parts = rest.split('-');
            let sheet = parts.next().unwrap_or("");
            let gauge = parts.next().and_then(|g| Awg::parse(g.trim_start_matches('0')));
            (format!("{specification}/{sheet}"), gauge)
        }
        _ => (text, None),
    }
}

/// Whether two texts of a field say the same: 3.2 m and 320 cm do.
pub(crate) fn same(field: &str, one: &str, other: &str) -> bool {
    if one == other {
        return true;
    }
    let quantity = match field {
        "gauge" => Quantity::Gauge,
        "length" => Quantity::Length,
        "current" => Quantity::Current,
        _ => return false,
    };
    let value = |text: &str| {
        let (confirm, rest) = confirm(text);
        quantity::parse(rest, quantity).map(|si| (confirm, si))
    };
    match (value(one), value(other)) {
        (Ok((a, x)), Ok((b, y))) => a == b && (x - y).abs() <= 1e-9 * x.abs().max(y.abs()),
        (Err(Fault::NoNumber), Err(Fault::NoNumber)) => one.eq_ignore_ascii_case(other),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauges_as_people_write_them() {
        for (text, gauge_text, changed) in [
            ("22", "22 AWG", false),
            ("22AWG", "22 AWG", true),
            ("#22", "22 AWG", true),
            ("AWG 22", "22 AWG", true),
            ("22 ga", "22 AWG", true),
            ("22.0", "22 AWG", true),
            ("1/0", "1/0 AWG", false),
            ("2/0 awg", "2/0 AWG", true),
            ("TBC 20", "TBC 20 AWG", true),
        ] {
            let read = gauge(text).expect(text);
            assert_eq!((read.text.as_str(), !read.what.is_empty()), (gauge_text, changed), "{text}");
        }
        for text in ["0.35", "22-20", "0.5 mm2", "J1", "41", "22?", "2x22", "22 or 20", "", "1e1"] {
            assert!(gauge(text).is_err(), "{text}");
        }
    }

    #[test]
    fn lengths_and_currents_as_people_write_them() {
        let metre = Quantity::Length.unit("m");
        for (text, unit, decimal, expected) in [
            ("3.2", metre, Decimal::Point, "3.2 m"),
            ("3,2", metre, Decimal::Comma, "3.2 m"),
            ("1,250", metre, Decimal::Point, "1250 m"),
            ("1.250,5", metre, Decimal::Comma, "1250.5 m"),
            ("1 250", metre, Decimal::Point, "1250 m"),
            ("12 ft", metre, Decimal::Point, "12 ft"),
            ("12FT", None, Decimal::Point, "12 ft"),
            ("12' 6\"", None, Decimal::Point, "150 in"),
            ("18\"", None, Decimal::Point, "18 in"),
            ("2.5 metres", None, Decimal::Point, "2.5 m"),
            ("3.2 m TBC", None, Decimal::Point, "TBC 3.2 m"),
            ("TBC 3.2", metre, Decimal::Point, "TBC 3.2 m"),
            (".5", metre, Decimal::Point, "0.5 m"),
            ("1.2E1", metre, Decimal::Point, "1.2E1 m"),
        ] {
            assert_eq!(number(text, Quantity::Length, unit, decimal).map(|r| r.text).as_deref(), Ok(expected), "{text}");
        }
        for text in ["~3", "3-4", "3.2 A", "3.2 furlong", "abc", "1,25,0", "3,2", "1.2.3", "?", "", "1 25"] {
            assert!(number(text, Quantity::Length, metre, Decimal::Point).is_err(), "{text}");
        }
        assert_eq!(number("250 mA", Quantity::Current, None, Decimal::Point).map(|r| r.text).as_deref(), Ok("250 mA"));
        assert!(number("2.5", Quantity::Current, None, Decimal::Point).is_err());
    }

    #[test]
    fn what_numbers_say_of_their_list() {
        for (text, says) in [
            ("1,5", Some(Decimal::Comma)),
            ("0,250", Some(Decimal::Comma)),
            ("1.250,5", Some(Decimal::Comma)),
            ("1,250.5", Some(Decimal::Point)),
            ("1,250,000", Some(Decimal::Point)),
            ("3.5", Some(Decimal::Point)),
            ("1,250", None),
            ("2.500", None),
            ("12", None),
        ] {
            assert_eq!(decimal_evidence(text), says, "{text}");
        }
        assert!(is_ambiguous("1,250") && !is_ambiguous("2.500") && !is_ambiguous("1,5"));
    }

    #[test]
    fn ends_as_people_write_them() {
        for (text, expected, changed) in [
            ("J1.4", "J1.4", false),
            ("J1-4", "J1.4", true),
            ("J1:4", "J1.4", true),
            ("J1/4", "J1.4", true),
            ("J1 4", "J1.4", true),
            ("J1(4)", "J1.4", true),
            ("J1 pin 4", "J1.4", true),
            ("PDU-J1-4", "PDU-J1.4", true),
            ("PDU J1-A", "PDU-J1.A", true),
            ("splice:SP1", "splice:SP1", false),
            ("SP1", "splice:SP1", true),
            ("GND", "ground:GND", true),
            ("spare", "stowed", true),
            ("stowed", "stowed", false),
            ("bus:A", "bus:A", false),
        ] {
            let read = end(text).expect(text);
            assert_eq!((read.text.as_str(), !read.what.is_empty()), (expected, changed), "{text}");
        }
        for text in ["J1", "J14", "J1-4-5", "J1-4/5", "-4", "J1-", "", "splice:"] {
            assert!(end(text).is_err(), "{text}");
        }
        assert_eq!(pin_of("J1", "J1-4").map(|r| r.text).as_deref(), Ok("J1.4"));
        assert!(looks_like_date("2-Jan") && looks_like_date("Mar-4") && !looks_like_date("J-4") && !looks_like_date("1-2"));
    }

    #[test]
    fn words_in_place_of_values_are_told_apart() {
        for (text, says) in [
            ("-", Some(Special::Blank)),
            ("—", Some(Special::Blank)),
            ("TBD", Some(Special::Open)),
            ("n/a", Some(Special::NotApplicable)),
            ("??", Some(Special::Doubt)),
            ("22?", None),
            ("TBDX", None),
        ] {
            assert_eq!(special(text), says, "{text}");
        }
        assert_eq!(type_and_gauge("M22759/16-22-9"), ("M22759/16".to_owned(), Some(Awg(22))));
        assert_eq!(type_and_gauge("22759/16-20-9"), ("M22759/16".to_owned(), Some(Awg(20))));
        assert_eq!(type_and_gauge("MIL-W-22759/16"), ("M22759/16".to_owned(), None));
        assert!(same("length", "12.5 ft", "3.81 m") && !same("length", "3.2 m", "3.20001 m"));
        assert!(same("length", "3.2 m", "320 cm") && !same("length", "3.2 m", "TBC 3.2 m") && !same("signal", "A", "a"));
    }
}
