//! The import of wire lists: lists of every shape against what they must give, merges, bounds, and the program ended half-way.

use super::command_line::{Ran, loomwright};
use rust_xlsxwriter::{Color, ExcelDateTime, Format, Formula, Workbook, Worksheet};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::{Cursor, Write as _};
use std::path::Path;
use trials::{read_text, root};
use xtask::random::Random;

/// A row of `tests/import/sheets.md`.
pub(crate) struct Expected {
    pub(crate) name: String,
    odd: usize,
    asks: Option<String>,
    /// Rows read, accepted, corrected, refused, and wires missing.
    rows: [u64; 5],
}

pub(crate) fn expected() -> Vec<Expected> {
    let text = read_text(&root().join("crates/trials/tests/import/sheets.md"));
    let table = text.lines().skip_while(|line| !line.starts_with("| name |")).skip(2).take_while(|line| line.starts_with('|'));
    table
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
            let number = |at: usize| cells[at].parse::<u64>().unwrap_or_else(|_| panic!("a number in {line}"));
            Expected {
                name: cells[0].to_owned(),
                odd: number(3) as usize,
                asks: Some(cells[4].to_owned()).filter(|asks| asks != "–"),
                rows: [5, 6, 7, 8, 9].map(number),
            }
        })
        .collect()
}

/// Cells of a sheet written as lines of text with `|` between them.
fn rows(sheet: &mut Worksheet, from_row: u32, from_column: u16, text: &str) {
    for (row, line) in text.lines().enumerate() {
        for (column, cell) in line.split('|').enumerate().filter(|(_, cell)| !cell.is_empty()) {
            let at = (from_row + row as u32, from_column + column as u16);
            match cell.parse::<f64>() {
                Ok(number) => sheet.write_number(at.0, at.1, number).map(drop),
                Err(_) => sheet.write_string(at.0, at.1, cell.trim_start_matches('\'')).map(drop),
            }
            .expect("a cell can be written");
        }
    }
}

fn saved(mut book: Workbook) -> Vec<u8> {
    book.save_to_buffer().expect("a workbook can be written")
}

/// A workbook of one sheet.
fn book(name: &str, fill: impl FnOnce(&mut Worksheet)) -> Vec<u8> {
    let mut book = Workbook::new();
    fill(book.add_worksheet().set_name(name).expect("a sheet name"));
    saved(book)
}

const HEADS: &str = "Wire,From,To,AWG,Length (m),Current (A)";

/// The bytes of a list, and the end of its name.
pub(crate) fn list(name: &str) -> (&'static str, Vec<u8>) {
    let csv = |text: &str| ("csv", text.as_bytes().to_vec());
    let under_heads = |rows: &str| ("csv", format!("{HEADS}\n{rows}").into_bytes());
    let plain = Format::new();
    match name {
        "plain" => under_heads(
            "W1,J1.1,P1.1,20,3.2,4\nW2,J1.2,P1.2,20,3.2,4\nW3,J1.3,P2.1,22,1.5,1\nW4,J1.4,P2.2,22,1.5,1\nW5,J1.5,P3.A,24,2,0.2\nW6,J1.6,P3.B,24,2,0.2\n",
        ),
        "title-rows" => (
            "xlsx",
            book("Sheet1", |sheet| {
                let large = Format::new().set_bold().set_font_color(Color::Blue);
                sheet.merge_range(0, 0, 0, 5, "HARNESS 17 WIRE LIST", &large).expect("a merged title");
                rows(sheet, 1, 0, "Issue C|||12 March");
                rows(
                    sheet,
                    4,
                    0,
                    "Wire No|From|To|Gauge|Length (m)|Amps\nW1|J1.1|P1.1|20|3.2|4\nW2|J1.2|P1.2|20|3.2|4\nW3|J1.3|P1.3|22|3.2|1\nW4|J1.4|P1.4|22|3.2|1",
                );
            }),
        ),
        "grouped-heads" => (
            "xlsx",
            book("List", |sheet| {
                sheet.merge_range(0, 1, 0, 3, "FROM", &plain).expect("merged");
                sheet.merge_range(0, 4, 0, 6, "TO", &plain).expect("merged");
                rows(
                    sheet,
                    1,
                    0,
                    "Wire ID|Unit|Conn|Pin|Unit|Conn|Pin|AWG|Length (ft)\n101|PDU|J1|1|RIU|P1|1|20|12\n102|PDU|J1|2|RIU|P1|2|20|12\n103|PDU|J2|A|HTR|P7|A|16|14.5\n104|PDU|J2|B|HTR|P7|B|16|14.5",
                );
            }),
        ),
        "cover-sheet" => {
            let mut book = Workbook::new();
            rows(book.add_worksheet().set_name("Cover").expect("a name"), 0, 0, "Harness 17\nMade by|the shop");
            rows(
                book.add_worksheet().set_name("Wires").expect("a name"),
                0,
                0,
                "Wire|From|To|AWG|Length (m)\nW1|J1.1|P1.1|20|3\nW2|J1.2|P1.2|20|3\nW3|J1.3|P1.3|20|3\nW4|J1.4|P1.4|20|3\nW5|J1.5|P1.5|20|3",
            );
            rows(book.add_worksheet().set_name("History").expect("a name"), 0, 0, "Issue|What|When\nA|first|January\nB|second|May");
            ("xlsx", saved(book))
        }
        "two-lists" => {
            let mut book = Workbook::new();
            rows(
                book.add_worksheet().set_name("Deck").expect("a name"),
                0,
                0,
                "Wire|From|To|AWG|Length (m)\nW1|J1.1|P1.1|20|3\nW2|J1.2|P1.2|20|3\nW3|J1.3|P1.3|20|3",
            );
            rows(
                book.add_worksheet().set_name("Hold").expect("a name"),
                0,
                0,
                "Gauge|Wire|From|To|Length (ft)\n22|W11|J2.1|P4.1|9\n22|W12|J2.2|P4.2|9",
            );
            ("xlsx", saved(book))
        }
        "gauge-words" => under_heads(
            "W1,J1.1,P1.1,22,1,1\nW2,J1.2,P1.2,22AWG,1,1\nW3,J1.3,P1.3,#22,1,1\nW4,J1.4,P1.4,AWG 22,1,1\nW5,J1.5,P1.5,22 ga,1,1\nW6,J1.6,P1.6,1/0,1,1\n",
        ),
        "pin-words" => under_heads(
            "W1,J1.1,P1.1,22,1,1\nW2,J1-2,P1.2,22,1,1\nW3,J1:3,P1.3,22,1,1\nW4,J1(4),P1.4,22,1,1\nW5,J1 pin 5,P1.5,22,1,1\nW6,J1-6-7,P1.6,22,1,1\n",
        ),
        "decimal-comma" => {
            csv("Wire;From;To;AWG;Length (m)\nW1;J1.1;P1.1;20;12\nW2;J1.2;P1.2;20;3,2\nW3;J1.3;P1.3;20;1.250,5\nW4;J1.4;P1.4;20;0,75\n")
        }
        "thousands" => (
            "xlsx",
            book("List", |sheet| {
                rows(sheet, 0, 0, "Wire|From|To|AWG|Length (mm)\nW1|J1.1|P1.1|20|\nW2|J1.2|P1.2|20|1,250.5\nW3|J1.3|P1.3|20|2,000");
                sheet.write_string(1, 4, "900").expect("a cell");
            }),
        ),
        "unclear-comma" => csv("Wire,From,To,AWG,Length (mm)\nW1,J1.1,P1.1,20,\"1,250\"\nW2,J1.2,P1.2,20,\"2,500\"\n"),
        "words-for-nothing" => under_heads(
            "W1,J1.1,P1.1,TBD,1,1\nW2,J1.2,P1.2,-,1,1\nW3,J1.3,P1.3,?,1,1\nW4,J1.4,P1.4,N/A,1,1\nW5,J1.5,P1.5,20,TBD,1\nW6,J1.6,P1.6,20,-,1\nW7,J1.7,P1.7,20,?,1\nW8,J1.8,P1.8,20,N/A,1\n",
        ),
        "repeats" => {
            under_heads("W1,J1.1,P1.1,20,1,1\nW2,J1.2,P1.2,20,1,1\nW2,J1.2,P1.2,20,1,1\nW3,J1.3,P1.3,20,1,1\nW3,J1.3,P1.4,20,1,1\n")
        }
        "merged-down" => (
            "xlsx",
            book("List", |sheet| {
                rows(
                    sheet,
                    0,
                    0,
                    "Wire|From unit|From conn|From pin|To|AWG|Length (m)\nW1||J1|1|P1.1|20|1\nW2||J1|2|P1.2|20|1\nW3||J1|3|P1.3|20|1\nW4|RIU|J4|1|P2.1|20|1",
                );
                sheet.merge_range(1, 1, 3, 1, "PDU", &plain).expect("merged");
            }),
        ),
        "swapped" => {
            csv("Wire,From,To,Length (m),AWG\nW1,J1.1,P1.1,20,3.2\nW2,J1.2,P1.2,20,4.7\nW3,J1.3,P1.3,22,1.9\nW4,J1.4,P1.4,16,12.5\n")
        }
        "two-lengths" => {
            csv("Wire,From,To,AWG,Length (m),Cut length (m)\nW1,J1.1,P1.1,20,3,3.2\nW2,J1.2,P1.2,20,4,4.2\nW3,J1.3,P1.3,22,1,1.2\n")
        }
        "no-unit" => csv("Wire,From,To,AWG,Length\nW1,J1.1,P1.1,20,3\nW2,J1.2,P1.2,20,4\nW3,J1.3,P1.3,22,1.5\n"),
        "formulas" => (
            "xlsx",
            book("List", |sheet| {
                rows(
                    sheet,
                    0,
                    0,
                    "Wire|From|To|AWG|Length (m)\nW1|J1.1|P1.1|20|3\nW2|J1.2|P1.2|20\nW3|J1.3|P1.3|20\nW4|J1.4|P1.4|20\nW5|J1.5|P1.5|20",
                );
                sheet.write_formula(2, 4, Formula::new("=1.5*2").set_result("3")).expect("a formula");
                sheet.write_formula(3, 4, Formula::new("=1.5*3").set_result("")).expect("a formula");
                sheet.write_formula(4, 4, Formula::new("='[routes.xlsx]Sheet1'!$A$1").set_result("4")).expect("a formula");
                sheet.write_formula(5, 4, Formula::new("=A1*2").set_result("#VALUE!")).expect("a formula");
            }),
        ),
        "dates" => (
            "xlsx",
            book("List", |sheet| {
                rows(
                    sheet,
                    0,
                    0,
                    "Wire|From conn|From pin|To conn|To pin|AWG|Length (m)\nW1|J1|1|P1|1|20|3\nW2|J1||P1|2|20|3\nW3|J1|3-Jan|P1|3|20|3",
                );
                let day = ExcelDateTime::from_ymd(2026, 1, 2).expect("a day");
                sheet.write_datetime_with_format(2, 2, &day, &Format::new().set_num_format("d-mmm")).expect("a date");
            }),
        ),
        "page-breaks" => under_heads(&format!(
            "DECK,,,,,\nW1,J1.1,P1.1,20,1,1\nW2,J1.2,P1.2,20,1,1\n{HEADS}\nW3,J1.3,P1.3,20,1,1\nW4,J1.4,P1.4,20,1,1\n,,,,,\nTotal,,,,4,\n"
        )),
        "office-export" => csv(
            "Harness 17;;;;;\n;;;;;\nas of May;;;;;\nWire;From;To;AWG;Length (m);Colour\n1;J1.1;P1.1;20;12;red\n2;J1.2;P1.2;#20;12;red\n3;J1.3;P1.3;20;1,5;blue\n4;J1.4;P1.4;#20;2,5;blue\n",
        ),
        "handmade" => (
            "xlsx",
            book("List", |sheet| {
                sheet.merge_range(2, 1, 2, 3, "FROM", &plain).expect("merged");
                sheet.merge_range(2, 4, 2, 5, "TO", &plain).expect("merged");
                // Row 5 to 8; the last one repeats row 7.
                rows(
                    sheet,
                    3,
                    0,
                    "Wire|Box|Conn|Pin|Conn|Pin|AWG|Length (m)\n1||J1|1|P1|1|20|3\n2||J1|J1-2|P1|2|20|3\n3||J1|3|P1|3|20|3\n4|PDU|J1|J1-4|P1|4|20|3\n4|PDU|J1|4|P1|4|20|3",
                );
                sheet.merge_range(4, 1, 6, 1, "PDU", &plain).expect("merged");
            }),
        ),
        "wide-text" => {
            let text = "Wire\tFrom\tTo\tAWG\tLength (m)\r\nW1 \tJ1.1\u{a0}\tP1.1\t20\t3\r\nW2\tJ1.2\tP1.2\t20\t3\r\nWire\tFrom\tTo\tAWG\tLength (m)\r\nW3\tJ1.3\tP1.3\t20\t 3 \r\nW4\tJ1.4\tP1.4\t?\t3\r\n";
            let mut bytes = vec![0xFF, 0xFE];
            bytes.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
            ("csv", bytes)
        }
        "inches" => {
            let text = "Wire,From,To,AWG,Length,Notes\nW1,J1.1,P1.1,20,3 ft,K\u{fc}hler\nW2,J1.2,P1.2,20,\"18\"\"\",T\u{fc}r\nW3,J1.3,P1.3,20,\"2' 6\"\"\",\nW4,J1.4,P1.4,20,1.5 FEET,\n";
            ("csv", text.chars().map(|c| c as u8).collect())
        }
        "boxes" => csv(
            "Wire,From unit,From conn,From pin,To unit,To conn,To pin,Wire type,Length (m)\nW1,PDU,J1,1,RIU,J1,1,M22759/16-22-9,3\nW2,PDU,J1,2,RIU,J1,2,M22759/16-22-9,3\nW3,PDU,J1,3,GND,,,M22759/16-20-9,1\nW4,RIU,J1,4,GND,,,M22759/16-20-9,1\n",
        ),
        "hidden-sheet" => {
            let mut book = Workbook::new();
            rows(
                book.add_worksheet().set_name("List").expect("a name"),
                0,
                0,
                "Wire|From|To|AWG|Length (m)\nW1|J1.1|P1.1|20|3\nW2|J1.2|P1.2||3\nW3|J1.3|P1.3|20|\nW4|J1.4|P1.4|20",
            );
            let sheet = book.worksheet_from_name("List").expect("the sheet");
            sheet.write_string(2, 3, "20").expect("a cell");
            sheet.write_string(3, 4, "3.5").expect("a cell");
            sheet.write_formula(4, 4, Formula::new("=7/2").set_result("3.5")).expect("a formula");
            let old = book.add_worksheet().set_name("Old").expect("a name");
            rows(old, 0, 0, "Wire|From|To|AWG|Length (m)\nW1|J9.1|P9.1|20|3");
            old.set_hidden(true);
            ("xlsx", saved(book))
        }
        "no-ids" => csv(
            "From,To,AWG,Wire type,Length (m)\nJ1.1,P1.1,20,M22759/16,3\n\n,,,,\nJ1.2,P1.2,20,SOFTFLEX-9,3\nJ1.3,P1.3,20,M22759/16,3 TBC\n\nJ1.4,P1.4,20,M22759/16,3\n",
        ),
        "stray-cell" => (
            "xlsx",
            book("List", |sheet| {
                rows(
                    sheet,
                    2,
                    1,
                    "Wire|From conn|From pin|To conn|To pin|AWG|Length (m)\nW1|J1|1|P1|1|20|3\nW2|J1|2|P1|2|20|3\nW3|J1|3|P1|3|20|3",
                );
                sheet.write_string(50_000, 20, "x").expect("a cell");
            }),
        ),
        _ => panic!("no list {name}"),
    }
}

/// Imports a list into a new folder, both in a folder of their own.
fn imported(folder: &Path, name: &str, bytes: &[u8], more: &str) -> Ran {
    fs::write(folder.join(name), bytes).expect("a list can be written");
    loomwright(folder, &format!("import {name} v --json {more}"))
}

fn json(ran: &Ran) -> Value {
    serde_json::from_str(&ran.out).unwrap_or_else(|why| panic!("{why}\n{}{}", ran.out, ran.err))
}

fn counts(value: &Value) -> [u64; 5] {
    ["read", "accepted", "corrected", "refused", "wires_missing"].map(|key| value["reconciliation"][key].as_u64().expect("a count"))
}

/// Wires of a folder's list by id, each the texts of its cells by head.
fn wires(folder: &Path) -> BTreeMap<String, BTreeMap<String, String>> {
    let text = read_text(&folder.join("wires.csv"));
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let heads: Vec<&str> = lines.next().expect("heads").split(',').collect();
    lines
        .map(|line| {
            let cells: BTreeMap<String, String> = heads.iter().zip(line.split(',')).map(|(h, c)| ((*h).to_owned(), c.to_owned())).collect();
            (cells["wire"].clone(), cells)
        })
        .collect()
}

#[test]
fn every_list_gives_what_its_row_says() {
    let expected = expected();
    assert!(expected.len() >= 25 - 5, "five more are random");
    assert!(expected.iter().filter(|row| row.odd >= 3).count() >= 8, "eight lists combine three oddities");
    for row in &expected {
        let folder = tempfile::tempdir().expect("a folder");
        let (end, bytes) = list(&row.name);
        let file = format!("list.{end}");
        let mut ran = imported(folder.path(), &file, &bytes, "");
        if let Some(answer) = &row.asks {
            assert_eq!(ran.code, 2, "{} asks\n{}", row.name, ran.err);
            assert!(ran.err.contains(&format!("      {answer}\n")), "{} shows the answer {answer}\n{}", row.name, ran.err);
            assert!(!folder.path().join("v").exists(), "{} writes nothing before it has its answer", row.name);
            ran = imported(folder.path(), &file, &bytes, answer);
        }
        let [read, accepted, corrected, refused, missing] = row.rows;
        assert_eq!(read, accepted + corrected + refused, "{}: its row adds up", row.name);
        assert_eq!(ran.code, u8::from(missing > 0), "{}\n{}{}", row.name, ran.out, ran.err);
        let value = json(&ran);
        assert_eq!(counts(&value), row.rows, "{}\n{}", row.name, ran.out);
        // Every refused row is named once, and every wire taken stands in the folder.
        assert_eq!(value["refused"].as_array().map(Vec::len), Some(refused as usize), "{}", row.name);
        assert_eq!(wires(&folder.path().join("v")).len() as u64, accepted + corrected, "{}", row.name);
        let check = loomwright(folder.path(), "check v --json");
        assert!([0, 1, 3].contains(&check.code), "{}: check ends with {}\n{}{}", row.name, check.code, check.out, check.err);
        // The same list once more changes nothing.
        let again = loomwright(folder.path(), &format!("import {file} v --update --json"));
        assert_eq!(json(&again)["written"], Value::Array(Vec::new()), "{}: the same list again\n{}", row.name, again.out);
    }
    println!("{} lists", expected.len());
}

/// Cells that say what a list says, whatever its shape.
#[test]
fn cells_say_what_the_lists_say() {
    let of = |name: &str, more: &str| {
        let folder = tempfile::tempdir().expect("a folder");
        let (end, bytes) = list(name);
        let ran = imported(folder.path(), &format!("list.{end}"), &bytes, more);
        assert!(ran.code <= 1, "{name}\n{}", ran.err);
        wires(&folder.path().join("v"))
    };
    let check = |name: &str, more: &str, wire: &str, cells: &[(&str, &str)]| {
        let wires = of(name, more);
        for (head, text) in cells {
            assert_eq!(wires[wire].get(*head).map(String::as_str), Some(*text), "{name}, {wire}, {head}: {:?}", wires[wire]);
        }
    };
    check(
        "grouped-heads",
        "",
        "103",
        &[("from", "J2.A"), ("to", "P7.A"), ("gauge_awg", "16"), ("length_ft", "14.5"), ("note_from_unit", "PDU"), ("note_to_unit", "HTR")],
    );
    check("two-lists", "--sheet all", "W12", &[("from", "J2.2"), ("length", "9 ft"), ("note_sheet", "Hold")]);
    check("two-lists", "--sheet 1", "W1", &[("length_m", "3")]);
    check("decimal-comma", "", "W3", &[("length_m", "1250.5")]);
    check("unclear-comma", "--map decimal=comma", "W1", &[("length_mm", "1.250")]);
    check("words-for-nothing", "", "W8", &[("length_m", ""), ("notes", "length N/A")]);
    check("words-for-nothing", "", "W1", &[("gauge_awg", "TBD")]);
    check("merged-down", "", "W3", &[("from", "J1.3"), ("note_from_unit", "PDU")]);
    check("two-lengths", "--map length=F", "W1", &[("length_m", "3.2"), ("note_length_m", "3")]);
    check("formulas", "", "W2", &[("length_m", "3")]);
    check("inches", "", "W3", &[("length", "30 in")]);
    check("inches", "", "W1", &[("length", "3 ft"), ("notes", "Kühler")]);
    check("boxes", "", "W1", &[("from", "PDU-J1.1"), ("to", "RIU-J1.1"), ("gauge_awg", "22"), ("type", "M22759/16")]);
    check("boxes", "", "W3", &[("to", "ground:GND"), ("gauge_awg", "20")]);
    check("no-ids", "", "J1-2_P1-2", &[("type", "TBD"), ("note_type", "SOFTFLEX-9")]);
    check("no-ids", "", "J1-3_P1-3", &[("length_m", "TBC 3")]);
    check("handmade", "", "2", &[("from", "J1.2")]);
    check("office-export", "", "4", &[("gauge_awg", "20"), ("length_m", "2.5"), ("colour", "blue")]);
}

/// Five good lists, each with random rows spoiled in ways whose loss is known; the count is kept beside the spoiling and knows nothing
/// of the program.
#[test]
fn what_random_spoiling_costs_is_what_the_program_says() {
    for seed in 1..=5 {
        let mut random = Random::new(seed);
        let (mut text, mut repeats) = (String::from("Wire,From conn,From pin,To conn,To pin,AWG,Length (m),Colour\n"), String::new());
        let (mut read, mut corrected, mut refused, mut missing) = (0, 0, 0, 0);
        let mut kept: BTreeMap<String, [String; 4]> = BTreeMap::new();
        for n in 1..=200 {
            let (id, from, to) = (format!("W{n}"), format!("J{}", 1 + n / 30), format!("P{}", 1 + n / 17));
            let mut cells = [
                id.clone(),
                from.clone(),
                n.to_string(),
                to.clone(),
                n.to_string(),
                "20".to_owned(),
                format!("{}.5", n % 40),
                "red".to_owned(),
            ];
            read += 1;
            let mut is_kept = true;
            match random.below(20) {
                0 => (cells[5], is_kept) = (String::new(), false),
                1 => (cells[5], is_kept) = ("2Z".to_owned(), false),
                2 => (cells[6], is_kept) = ("about 3".to_owned(), false),
                3 => (cells[2], is_kept) = ("?".to_owned(), false),
                4 => (cells[3], is_kept) = ("-".to_owned(), false),
                5 => {
                    cells[5] = "20AWG".to_owned();
                    corrected += 1;
                }
                6 => {
                    cells[2] = format!("{from}-{n}");
                    corrected += 1;
                }
                7 => cells[6] = "TBD".to_owned(),
                8 => {
                    // A repeat at the end of the list: read and refused, and no wire is missing for it.
                    repeats.push_str(&format!("{}\n", cells.join(",")));
                    read += 1;
                    refused += 1;
                }
                _ => {}
            }
            if is_kept {
                kept.insert(id, [format!("{from}.{n}"), format!("{to}.{n}"), "20".to_owned(), cells[6].clone()]);
            } else {
                refused += 1;
                missing += 1;
            }
            writeln!(text, "{}", cells.join(",")).expect("a string can be written to");
        }
        text.push_str(&repeats);
        assert!(missing > 10 && corrected > 5 && refused > missing, "seed {seed} spoils enough");
        let folder = tempfile::tempdir().expect("a folder");
        let ran = imported(folder.path(), "list.csv", text.as_bytes(), "");
        assert_eq!(counts(&json(&ran)), [read, read - corrected - refused, corrected, refused, missing], "seed {seed}");
        let found: BTreeMap<String, [String; 4]> = wires(&folder.path().join("v"))
            .into_iter()
            .map(|(id, cells)| (id, ["from", "to", "gauge_awg", "length_m"].map(|head| cells[head].clone())))
            .collect();
        assert_eq!(found, kept, "seed {seed}");
        println!("seed {seed}: {read} rows read, {corrected} corrected, {refused} refused, {missing} wires missing");
    }
}

/// A folder from a list, with the changes of its owner.
fn folder_with_hand_made_changes() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let list = "Wire,From,To,AWG,Length (ft),Colour\nW1,J1.1,P1.1,20,10,red\nW2,J1.2,P1.2,20,10,red\nW3,J1.3,P1.3,20,10,red\nW4,J1.4,P1.4,20,10,red\n\
                W5,J1.5,P1.5,20,10,red\nW6,J1.6,P1.6,20,10,red\nW7,J1.7,P1.7,20,10,red\n";
    assert_eq!(imported(folder.path(), "list.csv", list.as_bytes(), "").code, 0);
    // A comment, another order, lengths in metres, a column of one's own, W2 in 18 AWG, W5 longer, W6 taken out, W7 in 16, W9 of one's own.
    let mine = "# Checked on the mock-up.\nwire,from,to,gauge_awg,length_m,current_a,colour,group\n\
                W9,J9.1,P9.1,12,1,,,\n\
                W2,J1.2,P1.2,18,3.048,,red,\n# The next one is hard to reach.\n\
                W1,J1.1,P1.1,20,3.048,,red,g1\nW3,J1.3,P1.3,20,3.048,,red,\nW4,J1.4,P1.4,20,3.048,,red,\nW5,J1.5,P1.5,20,4,,red,\nW7,J1.7,P1.7,16,3.048,,red,";
    fs::write(folder.path().join("v/wires.csv"), mine).expect("the folder's list can be written");
    folder
}

/// Merged by hand: what one side changed is taken, what both changed stays as the folder has it and is listed.
#[test]
fn a_newer_list_is_merged_by_three_versions() {
    let folder = folder_with_hand_made_changes();
    // The new list: W1 longer, W2 as before, W3 gone, W4 blue, W5 longer in another way, W6 as before, W7 gone, W8 new.
    let list = "Wire,From,To,AWG,Length (ft),Colour\nW8,J1.8,P1.8,22,20,white\nW1,J1.1,P1.1,20,12.5,red\nW2,J1.2,P1.2,20,10,red\nW4,J1.4,P1.4,20,10,blue\n\
                W5,J1.5,P1.5,20,11,red\nW6,J1.6,P1.6,20,10,red\n";
    fs::write(folder.path().join("list.csv"), list).expect("the list can be written");
    let before = read_text(&folder.path().join("v/wires.csv"));
    let ran = loomwright(folder.path(), "import list.csv v --update --json");
    assert_eq!(ran.code, 1, "conflicts\n{}{}", ran.out, ran.err);
    let merge = json(&ran)["merge"].clone();
    assert_eq!(merge["added"], serde_json::json!(["W8"]));
    assert_eq!(merge["removed"], serde_json::json!(["W3"]));
    assert_eq!(
        merge["changed"],
        serde_json::json!([
            {"wire": "W1", "field": "length", "from": "3.048 m", "to": "12.5 ft"},
            {"wire": "W4", "field": "colour", "from": "red", "to": "blue"}
        ])
    );
    assert_eq!((merge["own"].as_u64(), merge["kept"].as_u64()), (Some(1), Some(2)), "W9 of one's own; W2's gauge and W6 taken out by hand");
    let conflicts: Vec<(&str, &str)> = merge["conflicts"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|c| (c["wire"].as_str().expect("a wire"), c["field"].as_str().expect("a field")))
        .collect();
    assert_eq!(conflicts, [("W5", "length"), ("W7", "")]);
    // 12.5 ft = 3.81 m, 20 ft = 6.096 m. Nothing else moves.
    let after = "# Checked on the mock-up.\nwire,from,to,gauge_awg,length_m,current_a,colour,group\n\
                 W9,J9.1,P9.1,12,1,,,\n\
                 W2,J1.2,P1.2,18,3.048,,red,\n# The next one is hard to reach.\n\
                 W1,J1.1,P1.1,20,3.81,,red,g1\nW4,J1.4,P1.4,20,3.048,,blue,\nW5,J1.5,P1.5,20,4,,red,\nW7,J1.7,P1.7,16,3.048,,red,\n\
                 W8,J1.8,P1.8,22,6.096,,white,\n";
    assert_eq!(read_text(&folder.path().join("v/wires.csv")), after);
    // What was written over is kept.
    assert_eq!(json(&ran)["backup"], "imports/backup-1");
    assert_eq!(read_text(&folder.path().join("v/imports/backup-1/wires.csv")), before);
    // Once more: nothing is left to do, and what stays different by hand is no conflict any more.
    let again = loomwright(folder.path(), "import list.csv v --update --json");
    assert_eq!((again.code, json(&again)["merge"]["conflicts"].as_array().map(Vec::len)), (0, Some(0)), "{}", again.out);
    assert_eq!(read_text(&folder.path().join("v/wires.csv")), after);
}

#[test]
fn a_refused_row_takes_no_wire_out() {
    let folder = folder_with_hand_made_changes();
    // W1 with a gauge that cannot be read, W4 gone, W3 as a row whose id is gone too and whose end is not said.
    let list = "Wire,From,To,AWG,Length (ft),Colour\nW1,J1.1,P1.1,2O,10,red\nW2,J1.2,P1.2,20,10,red\n,,P1.3,20,10,red\nW5,J1.5,P1.5,20,10,red\n\
                W6,J1.6,P1.6,20,10,red\nW7,J1.7,P1.7,20,10,red\n";
    fs::write(folder.path().join("list.csv"), list).expect("the list can be written");
    let before = read_text(&folder.path().join("v/wires.csv"));
    let ran = loomwright(folder.path(), "import list.csv v --update --json");
    assert_eq!(ran.code, 1);
    let value = json(&ran);
    assert_eq!(value["merge"]["removed"], serde_json::json!([]));
    let wires: Vec<&str> = value["merge"]["conflicts"].as_array().expect("a list").iter().filter_map(|c| c["wire"].as_str()).collect();
    assert_eq!(wires, ["W1", "W3", "W4"], "{}", ran.out);
    assert_eq!(read_text(&folder.path().join("v/wires.csv")), before);
    // The mended list of next week: W4 is really gone, and is taken out now.
    let list = list.replace("2O", "20").replace("\n,,P1.3", "\nW3,J1.3,P1.3");
    fs::write(folder.path().join("list.csv"), list).expect("the list can be written");
    let ran = loomwright(folder.path(), "import list.csv v --update --json");
    assert_eq!((ran.code, json(&ran)["merge"]["removed"].clone()), (0, serde_json::json!(["W4"])), "{}", ran.out);
}

/// 17 AWG is a gauge, but no wire of the catalog has it: that row is refused, its wire is missing, and the others make a folder.
#[test]
fn a_gauge_that_no_wire_has_costs_its_row_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = "Wire,From,To,AWG,Length (m)\nW1,J1.1,P1.1,20,12\nW2,J1.2,P1.2,17,12\nW3,J1.3,P1.3,22,12\n";
    let ran = imported(folder.path(), "list.csv", list.as_bytes(), "");
    assert_eq!(counts(&json(&ran)), [3, 2, 0, 1, 1], "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("the catalog has no wire of gauge 17"), "{}", ran.out);
    assert_eq!(wires(&folder.path().join("v")).len(), 2);
}

/// A comma of thousands in a column whose other number shows decimal commas: 1,200 mm would be 1.2 mm. 0,9 mm is as little a wire.
#[test]
fn a_length_that_no_wire_has_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = "Wire;From;To;AWG;Length (mm)\nW1;J1.1;P1.1;20;1,200\nW2;J1.2;P1.2;20;10,0\nW3;J1.3;P1.3;22;0,9\nW4;J1.4;P1.4;22;1200,5\n";
    let ran = imported(folder.path(), "list.csv", list.as_bytes(), "");
    assert_eq!(counts(&json(&ran)), [4, 0, 2, 2, 2], "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("1.200 mm is too short for a wire") && ran.out.contains("0.9 mm is too short for a wire"), "{}", ran.out);
    assert!(wires(&folder.path().join("v")).iter().all(|(name, _)| name == "W2" || name == "W4"));
}

/// New columns and points come into lists and files that are there.
#[test]
fn what_the_folder_lacks_is_put_in() {
    let folder = tempfile::tempdir().expect("a folder");
    let vehicle = folder.path().join("v");
    fs::create_dir(&vehicle).expect("a folder");
    fs::write(vehicle.join("vehicle.toml"), "format = 1\n[splice.SP1]\n").expect("a file");
    fs::write(vehicle.join("wires-a.csv"), "wire,from,to,gauge\r\nW1,J1.1,splice:SP1,20 AWG\r\n").expect("a file");
    fs::write(folder.path().join("list.csv"), "Wire,From,To,AWG,Length (m)\nW1,J1.1,SP1,20,3\nW2,J1.2,SP2,22,2\n").expect("a list");
    let ran = loomwright(folder.path(), "import list.csv v --update --json");
    assert_eq!(ran.code, 1, "{}{}", ran.out, ran.err);
    // W1 was never in a list: its missing length could be meant.
    assert_eq!(json(&ran)["merge"]["conflicts"][0]["field"], "length");
    assert_eq!(
        read_text(&vehicle.join("wires-a.csv")),
        "wire,from,to,gauge,length\r\nW1,J1.1,splice:SP1,20 AWG,\r\nW2,J1.2,splice:SP2,22 AWG,2 m\r\n"
    );
    assert_eq!(read_text(&vehicle.join("points.toml")), "\n[splice.SP2]\n");
    // A folder that does not load is not touched.
    fs::write(vehicle.join("bad.toml"), "[unit\n").expect("a file");
    let ran = loomwright(folder.path(), "import list.csv v --update");
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(ran.err.contains("bad.toml:1"), "{}", ran.err);
}

/// A workbook with parts put in the place of others, or added.
fn with_parts(book: &[u8], parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut old = zip::ZipArchive::new(Cursor::new(book)).expect("a workbook is a packed file");
    let mut new = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for at in 0..old.len() {
        let part = old.by_index_raw(at).expect("a part");
        let name = part.name().expect("a name").into_owned();
        if parts.iter().all(|(other, _)| *other != name) {
            new.raw_copy_file(part).expect("a part can be copied");
        }
    }
    for (name, content) in parts {
        new.start_file(*name, zip::write::SimpleFileOptions::default()).expect("a part can be begun");
        new.write_all(content).expect("a part can be written");
    }
    new.finish().expect("the workbook can be written").into_inner()
}

pub(crate) fn with_part(book: &[u8], name: &str, content: &[u8]) -> Vec<u8> {
    with_parts(book, &[(name, content)])
}

/// Lists that are refused or asked about, each with words that say why, and nothing written.
#[test]
fn what_cannot_be_taken_is_refused_in_words() {
    let long_cell = format!("{HEADS}\nW1,J1.1,P1.1,20,1,{}\n", "9".repeat(3_000));
    let many_rows = format!("{HEADS}\n{}", "W1,J1.1,P1.1,20,1,1\n".repeat(250_001));
    let wide = format!("{HEADS}{}x\nW1,J1.1,P1.1,20,1,1\n", ",".repeat(300));
    let good = list("title-rows").1;
    let sheet = |inner: &str| format!("<worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\">{inner}</worksheet>");
    let with_sheet = |inner: &str| with_part(&good, "xl/worksheets/sheet1.xml", sheet(inner).as_bytes());
    let strings =
        |count: &str| format!("<sst xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" uniqueCount=\"{count}\"></sst>");
    let deep = format!("{}{}", "<row>".repeat(100_000), "</row>".repeat(100_000));
    // Each part is below the size from which its ratio counts; together they are too much.
    let (blanks, names) = (vec![b' '; 9_900_000], (0..31).map(|n| format!("xl/media/{n}.bin")).collect::<Vec<_>>());
    let media: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), blanks.as_slice())).collect();
    let laughs = "<!DOCTYPE x [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;&a;&a;\">]><worksheet><sheetData><row r=\"1\"><c r=\"A1\" t=\"str\"><v>&b;</v></c></row></sheetData></worksheet>";
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("empty.csv", Vec::new(), "the list is empty"),
        ("heads.csv", b"a,b,c\n1,2,3\n".to_vec(), "no row of the list looks like the heads"),
        ("binary.csv", vec![0, 1, 2, 0, 255], "neither a workbook nor text"),
        ("old.xls", vec![0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1], "old binary kind"),
        ("cut.xlsx", good[..good.len() / 2].to_vec(), "damaged"),
        ("text.xlsx", b"PK\x03\x04 nothing".to_vec(), "damaged"),
        ("macros.xlsx", with_part(&good, "xl/vbaProject.bin", b"x"), "macros"),
        ("bomb.xlsx", with_part(&good, "xl/worksheets/sheet1.xml", &vec![b' '; 50_000_000]), "times its size"),
        ("large.xlsx", with_parts(&good, &media), "300000000 bytes"),
        ("claims.xlsx", with_part(&good, "xl/sharedStrings.xml", strings("99999999999999999999").as_bytes()), "claims more than"),
        ("claims-more.xlsx", with_part(&good, "xl/sharedStrings.xml", strings("5000001").as_bytes()), "claims more than"),
        (
            "shared.xlsx",
            with_sheet(
                "<sheetData><row r=\"1\"><c r=\"A1\"><f t=\"shared\" ref=\"A1\" si=\"4000000000\">1</f><v>1</v></c></row></sheetData>",
            ),
            "claims more than",
        ),
        ("deep.xlsx", with_sheet(&deep), "damaged"),
        ("laughs.xlsx", with_part(&good, "xl/worksheets/sheet1.xml", laughs.as_bytes()), "damaged"),
        ("far.xlsx", with_sheet("<sheetData><row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row></sheetData>"), "200 columns"),
        ("cell.csv", long_cell.into_bytes(), "more than 2000 characters"),
        ("rows.csv", many_rows.into_bytes(), "more than 250000 rows"),
        ("wide.csv", wide.into_bytes(), "200 columns"),
    ];
    for (name, bytes, words) in cases {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(folder.path().join(name), bytes).expect("a list");
        let ran = loomwright(folder.path(), &format!("import {name} v"));
        assert_eq!(ran.code, 2, "{name}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(words), "{name} says {words:?}:\n{}", ran.err);
        assert!(!folder.path().join("v").exists(), "{name}: nothing is written");
    }
    // What has no end is not read to it.
    if cfg!(unix) {
        let folder = tempfile::tempdir().expect("a folder");
        let ran = loomwright(folder.path(), "import /dev/zero v");
        assert!(ran.code == 2 && ran.err.contains("is not a file"), "{}", ran.err);
    }
    // A file that is too large is not read at all; a sparse one costs nothing to make.
    let folder = tempfile::tempdir().expect("a folder");
    fs::File::create(folder.path().join("large.csv")).and_then(|file| file.set_len(200_000_000)).expect("a large file");
    let ran = loomwright(folder.path(), "import large.csv v");
    assert!(ran.code == 2 && ran.err.contains("200 MB are more than the 100 MB"), "{}", ran.err);
}
