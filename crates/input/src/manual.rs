//! The manual page of the input, written from the table of fields.

use crate::codes;
use crate::fields::{FieldKind, FieldSpec, Form, TableSpec, tables};
use crate::quantity::Quantity;
use core::fmt::Write;

/// `docs/manual/input.md`.
pub fn manual() -> String {
    let mut page = String::from(INTRODUCTION);
    let mut put = |text: String| page.push_str(&text);
    put(quantities());
    put("\n## Tables\n".to_owned());
    for table in tables().iter().filter(|t| t.form != Form::Csv) {
        put(section(table));
    }
    put("\n## Lists\n\nThe first row names the columns. A head may end in a unit (`length_m`, `gauge_awg`, `current_a`); its cells are then \
         plain numbers. Else each cell has its unit (`3.2 m`). An empty cell says nothing. A line that begins with `#` is a comment.\n"
        .to_owned());
    for table in tables().iter().filter(|t| t.form == Form::Csv) {
        put(section(table));
    }
    put(limits());
    put(code_list());
    page
}

const INTRODUCTION: &str = "\
# Input

<!-- Written by the program from its table of fields; edit that, not this page. -->

A vehicle is a folder of plain text. Every `….toml` at its top is read as one document, so you split it as you like; the same id twice in
any of them is an error that quotes both places. `wires.csv`, and any `wires-….csv`, is the wire list; `pins.csv`, and any `pins-….csv`, says
what the pins of units mean. `catalog/` holds wire types, contact sizes and currents, insert arrangements and limits profiles of your own
beside the shipped ones. Other files are not read.

A folder with nothing but `wires.csv` is enough to begin with: a wire with gauge, length and current is judged by itself.

## Ids and ends

An id has 1 to 64 characters: no white space, none of `, ; : @ = . * ? \" ' \\` and no back-tick. It is unique within its kind. Two ids that
differ only in case, or in O and 0, or in I, l and 1, give a warning.

An end says where a conductor ends:

| written | is |
|---|---|
| `J3.14` | cavity 14 of connector J3 |
| `splice:SP1`, `stud:ST1`, `ground:G1` | a splice, stud, ground point |
| `bus:A`, `node:X` | a bus, a node inside a unit |
| `shell:J1`, `case:PDU` | the shell of a connector, the case of a unit |
| `branch:B1` | a breakout of the harness |
| `stowed` | nowhere: a spare (wires only) |

Connectors that only the wire list names need no row. Splices, studs and ground points do. A wire listed to the pin of a connector that
belongs to a unit and has no `mate` ends on that connector's unnamed harness half, and a contact of the connector's size joins the two.
On a connector of kind `terminals` the wire lands on the pin itself. Circuits and cables need no row.

## Values that are not firm

`\"TBD\"` stands for a value that is not known; what needs it is not judged. `\"TBC 4.5 A\"` is used, and every result that rests on it says
so. Both may end in `[owner; 2027-03-01]`: who answers, and by when. Where a value is missing and the table below states a default as
*assumed*, the default is used and listed.

An uncertain number is written once, `\"29 V\"`, or as `{ low = \"26.5 V\", typical = \"28 V\", high = \"29.5 V\" }`; low and high may be left
out. They order the number itself, whatever it does to a voltage.

## In an editor

`loomwright schema -o vehicle.schema.json` writes the keys, words, units and ranges of this page as a JSON Schema (draft 2020-12). An
editor that knows TOML then completes keys, explains them under the pointer and marks what cannot be right while you type. Most take a
comment at the top of each file:

```toml
#:schema ./vehicle.schema.json
format = 1
```

Others want the path of the schema for `*.toml` in their settings. The schema sees one file: that an id exists elsewhere, that a number
with an exponent is in its range, and what two values have to do with each other is judged by `loomwright check`.
";

fn quantities() -> String {
    let mut text = String::from(
        "\n## Quantities\n\nA number is written with its unit: `4.5 A`, `20 AWG`, `55 degC`. A bare number is an error.\n\n| quantity | units |\n|---|---|\n",
    );
    for quantity in Quantity::ALL {
        let title = quantity.title().trim_start_matches("an ").trim_start_matches("a ");
        let _ = writeln!(text, "| {title} | {} |", quantity.units().iter().map(|u| format!("`{}`", u.word)).collect::<Vec<_>>().join(" "));
    }
    text
}

fn section(table: &TableSpec) -> String {
    let title = match table.form {
        Form::Root => "Top of a file".to_owned(),
        Form::Table if table.key == "disposition" => "`[disposition.\"RULE/kind:name\"]`".to_owned(),
        Form::Table => format!("`[{}.ID]`", table.key),
        Form::Csv => {
            let what = match table.key {
                "wire" => "the wire list".to_owned(),
                "pin" => "interface sheets, pin by pin".to_owned(),
                "contact current" => "contact currents by gauge".to_owned(),
                "arrangement" => "insert arrangements".to_owned(),
                key => format!("{key}s"),
            };
            format!("`{}`: {what}", crate::fields::list_of(table).unwrap_or_default())
        }
    };
    let fence = if table.form == Form::Csv { "csv" } else { "toml" };
    let mut text = format!("\n### {title}\n\n{}\n\n```{fence}\n{}\n```\n", table.doc, table.example);
    if !table.fields.is_empty() {
        let what = if table.form == Form::Csv { "column" } else { "key" };
        let _ = write!(text, "\n| {what} | holds | range | if missing | meaning |\n|---|---|---|---|---|\n");
        for field in table.fields {
            let _ = writeln!(text, "| `{}` | {} | {} | {} | {} |", field.key, holds(field), range(field), missing(field), meaning(field));
        }
    }
    text
}

fn holds(field: &FieldSpec) -> String {
    let mut words = match field.kind {
        FieldKind::Text => "text".to_owned(),
        FieldKind::Name => "id".to_owned(),
        FieldKind::Words(words) => words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(" "),
        FieldKind::Flag => "`true` `false`".to_owned(),
        FieldKind::Count => "whole number".to_owned(),
        FieldKind::Plain => "plain number".to_owned(),
        FieldKind::Number(q) => bare(q).to_owned(),
        FieldKind::NumberOr(q, word) => format!("{}, or `{word}`", bare(q)),
        FieldKind::Either(a, b) => format!("{} or {}", bare(a), bare(b)),
        FieldKind::Spread(q) => format!("{}, one or low, typical, high", bare(q)),
        FieldKind::End => "end".to_owned(),
        FieldKind::Id(kind) => format!("id of a {kind}"),
        FieldKind::Ids(kind) => format!("list of ids of a {kind}"),
        FieldKind::Groups(kind) => format!("list of lists of ids of a {kind}"),
        FieldKind::Elements => "list of `kind:name`".to_owned(),
        FieldKind::Needs => "list of `kind:name`, `{ any }`, `{ at_least, of }`, `{ path }`".to_owned(),
        FieldKind::Watched => "`kind:name`".to_owned(),
        FieldKind::Fitted => "list of ids of plugs, caps, savers, adapters".to_owned(),
        FieldKind::Pairs => "list of pairs".to_owned(),
        FieldKind::Date => "date".to_owned(),
        FieldKind::Limit(q) => format!("{} with `value`, `source` and `how` (`read` `memory` `practice`)", bare(q)),
        FieldKind::LeftOut => "list of `{ rule, reason }`".to_owned(),
        FieldKind::Position => "list of three lengths".to_owned(),
        FieldKind::Factor => "plain number".to_owned(),
        FieldKind::Via => "ids of breakouts and segments".to_owned(),
        FieldKind::Apart => "list of `{ classes, source, how }` (`read` `memory` `practice`)".to_owned(),
    };
    if field.open {
        words.push_str(", or `TBD`");
    }
    words
}

fn bare(quantity: Quantity) -> &'static str {
    quantity.title().trim_start_matches("an ").trim_start_matches("a ")
}

fn range(field: &FieldSpec) -> String {
    if field.kind == FieldKind::Number(Quantity::Gauge) { "4/0 to 40 AWG".to_owned() } else { field.range_words() }
}

fn missing(field: &FieldSpec) -> String {
    match (field.required, field.default.is_empty()) {
        (true, _) => "an error".to_owned(),
        (_, false) => field.default.to_owned(),
        _ if !field.only.is_empty() => "an error for its kind".to_owned(),
        _ => "unstated".to_owned(),
    }
}

fn meaning(field: &FieldSpec) -> String {
    if field.only.is_empty() { field.help.to_owned() } else { format!("{} (kind {})", field.help, field.only) }
}

fn limits() -> String {
    use crate::limits::*;
    let thousands = |n: usize| match n {
        n if n % 1_000_000 == 0 => format!("{} million", n / 1_000_000),
        n if n >= 1_000 => format!("{},{:03}", n / 1_000, n % 1_000),
        n => n.to_string(),
    };
    let rows = [
        ("bytes of a list", LIST_BYTES),
        ("bytes of a file of tables", TABLES_BYTES),
        ("bytes of a folder", FOLDER_BYTES),
        ("files of a folder", FILES),
        ("bytes of a line", LINE_BYTES),
        ("lines of all lists", LINES),
        ("lines and marks `=` `,` `[` `]` `{` `}` of all tables", MARKS),
        ("brackets or dots inside each other", NESTING),
        ("columns of a list", COLUMNS),
        ("cavities of all arrangements", CAVITIES),
        ("characters of a text", TEXT_CHARACTERS),
        ("problems told one by one", PROBLEMS),
    ];
    let mut text = String::from(
        "\n## Limits\n\nWhat is larger is refused with a message, before it fills the memory. The largest vehicle this program is made for \
         has 100,000 wires.\n\n| what | at most |\n|---|---|\n",
    );
    for (what, most) in rows {
        let _ = writeln!(text, "| {what} | {} |", thousands(most));
    }
    text
}

fn code_list() -> String {
    let mut text = String::from("\n## Codes\n\nEvery problem of the input has a code and a place.\n\n| code | meaning |\n|---|---|\n");
    for (code, meaning) in codes::ALL {
        let _ = writeln!(text, "| {} | {} |", code.0, meaning.trim());
    }
    text
}
