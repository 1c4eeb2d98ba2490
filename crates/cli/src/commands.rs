//! The one table of commands: name, arguments, what it does, examples. Parser, help, manual, completions and tests are built
//! from it.

use crate::run::{Asks, Stage, exit_code, with_view};
use crate::session::{BAD_INPUT, CLEAN, FINDINGS, Failure, NOT_JUDGED, NOT_WRITTEN, STOPPED, Session};
use crate::{build, faults, folder, import, names, start, write};
use clap::ArgMatches;
use clap_complete::Shell;
use decide::measured::{BatteryMeasured, Start};
use decide::{Amount, Names, Verb};
use input::quantity::{self, Quantity};
use input::state::Measured;
use model::*;
use outputs::json::to_text;
use outputs::show::{self, Asked};
use outputs::{Style, View};
use physics::{Ampere, Kelvin, MetrePerSecond, Ohm, Pascal, Second, Watt, WattPerSquareMetre};
use rules::Case;
use std::path::PathBuf;

/// A command of the program.
pub struct Command {
    /// The verb.
    pub name: &'static str,
    /// What it does, in one line without a full stop.
    pub about: &'static str,
    /// What one line does not say; may be empty.
    pub details: &'static str,
    /// Its arguments.
    pub arguments: &'static [Argument],
    /// Command lines that work in a copy of the example `bench-rig` (of `endure` in one of `gannet-mended`), and what each does.
    pub examples: &'static [(&'static str, &'static str)],
    /// Whether it prints results as JSON with `--json`.
    pub json: bool,
    pub(crate) run: fn(&mut Session, &ArgMatches) -> Result<u8, Failure>,
}

/// An argument or option.
pub struct Argument {
    pub(crate) id: &'static str,
    pub(crate) long: Option<&'static str>,
    pub(crate) short: Option<char>,
    pub(crate) value: &'static str,
    pub(crate) takes: Takes,
    pub(crate) choices: &'static [&'static str],
    pub(crate) required: bool,
    pub(crate) help: &'static str,
}

/// What stands behind an argument.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Takes {
    Nothing,
    Text,
    Texts,
    /// A text, each time the option is given.
    Each,
    Path,
}

impl Argument {
    const fn place(id: &'static str, value: &'static str, takes: Takes, help: &'static str) -> Argument {
        Argument { id, long: None, short: None, value, takes, choices: &[], required: false, help }
    }
    const fn option(id: &'static str, value: &'static str, takes: Takes, help: &'static str) -> Argument {
        Argument { id, long: Some(id), short: None, value, takes, choices: &[], required: false, help }
    }
    const fn each(id: &'static str, value: &'static str, help: &'static str) -> Argument {
        Argument::option(id, value, Takes::Each, help)
    }
    const fn flag(id: &'static str, help: &'static str) -> Argument {
        Argument { id, long: Some(id), short: None, value: "", takes: Takes::Nothing, choices: &[], required: false, help }
    }
    const fn must(mut self) -> Argument {
        self.required = true;
        self
    }
    const fn of(mut self, choices: &'static [&'static str]) -> Argument {
        self.choices = choices;
        self
    }
    const fn short(mut self, short: char) -> Argument {
        self.short = Some(short);
        self
    }
    const fn long(mut self, long: Option<&'static str>) -> Argument {
        self.long = long;
        self
    }
    /// `-o, --output FILE`, `DIR`.
    pub(crate) fn synopsis(&self) -> String {
        let many = if matches!(self.takes, Takes::Texts | Takes::Each) { "…" } else { "" };
        let long = self.long.map(|long| format!("--{long}"));
        let short = self.short.map(|short| format!("-{short}"));
        let name: Vec<String> = [short, long].into_iter().flatten().collect();
        format!("{} {}{many}", name.join(", "), self.value).trim().to_owned()
    }
    /// The same in a usage line: optional ones in brackets.
    pub(crate) fn usage(&self) -> String {
        let many = if matches!(self.takes, Takes::Texts | Takes::Each) { "…" } else { "" };
        let name = match (self.short, self.long) {
            (Some(short), _) => format!("-{short} "),
            (None, Some(long)) => format!("--{long} "),
            (None, None) => String::new(),
        };
        let text = format!("{name}{}{many}", self.value);
        let text = text.trim();
        if self.required { text.to_owned() } else { format!("[{text}]") }
    }
}

/// Options of every command.
pub(crate) const GLOBALS: &[Argument] = &[
    Argument::option("folder", "DIR", Takes::Path, "the vehicle's folder (default: here)").short('C').long(None),
    Argument::flag("json", "print one JSON object"),
    Argument::option("color", "WHEN", Takes::Text, "colour in text: auto is a terminal without NO_COLOR").of(&["auto", "always", "never"]),
];

/// Exit codes and their meaning.
pub(crate) const EXIT_CODES: &[(u8, &str)] = &[
    (CLEAN, "no findings, and everything the profile requires was judged"),
    (FINDINGS, "findings, or a computation that did not settle"),
    (BAD_INPUT, "input or arguments not understood, or a file not readable"),
    (NOT_JUDGED, "no findings, but required rules could not be judged"),
    (4, "built without this part"),
    (NOT_WRITTEN, "output could not be written"),
    (STOPPED, "stopped"),
];

const FORCE: Argument = Argument::flag("force", "write over a file that exists");
const TODAY: Argument = Argument::option("today", "DATE", Takes::Text, "hold expiry dates of dispositions against this day (YYYY-MM-DD)");
const ALL_ROWS: Argument = Argument::flag("all", "print all rows, not only the first ten of a list");
const FAULT_CORNER: Argument = Argument::option("corner", "CORNER", Takes::Text, "in which corner (default: low)").of(CORNERS);
const FAULTS_OUTPUT: Argument = Argument::option(
    "output",
    "FILE",
    Takes::Path,
    "write a file by its end: failure modes (.csv, .xlsx), functions and groups of faults drawn (.svg), all lines (.jsonl); `-` prints failure modes as CSV",
)
.short('o');
// What `whatif` and `endure` change.
const OPEN: Argument = Argument::each(
    "open",
    "X",
    "command a breaker, fuse, switch, source or converter off; part a wire (`W12@from`: at one end), contact or pin",
);
const CLOSE: Argument = Argument::each("close", "X", "command it on");
const OHM: Argument = Argument::each("ohm", "X=OHM", "give it another resistance: `J4.7=2ohm`");
const STUCK: Argument = Argument::each("stuck", "X=STATE", "stuck, whatever is commanded: `CB3=closed`, `CB3=open`, `D1=shorted`");
const SHORT: Argument =
    Argument::each("short", "A,B[,OHM]", "a short circuit between two places (1 mohm unless given); `W12@0.5` alone is to structure");
const LOSE: Argument = Argument::each("lose", "X", "take it away with all that lands on it: `battery:B`, `connector:J3`, `unit:PDU`");
const CUT: Argument = Argument::each("cut", "segment:S", "part every wire that lies in a segment of the harness");
const FIT: Argument = Argument::each("fit", "X", "put a plug, cap, saver or adapter on its connector, in place of what stands there");
const UNFIT: Argument = Argument::each("unfit", "X", "take it off: the mate is back on");
const SET_LOAD: Argument = Argument::each("set-load", "L=QTY", "let a load draw something else: `F1=40W`, `2A`, `9ohm`, `on`, `off`");
const ZONE: Argument = Argument::each(
    "zone",
    "Z:FIELD=VALUE",
    "give a zone other surroundings: `hold:pressure=0`, `hold:fan=off`; also gas_temperature, gravity, air_speed, walls, sun",
);
const PHASE: Argument = Argument::option("phase", "PHASE", Takes::Text, "only this phase");
const WHAT: &[&str] = &[
    "voltages",
    "currents",
    "drops",
    "wires",
    "pins",
    "connectors",
    "functions",
    "cuts",
    "ampacity",
    "temperatures",
    "protection",
    "faultcurrents",
    "curve",
    "timeline",
    "energy",
    "loads",
    "budget",
    "mass",
    "routes",
    "lengths",
    "bundles",
    "bundle",
    "margins",
    "catalog",
    "profile",
    "open",
    "readiness",
];
const CORNERS: &[&str] = &["low", "typical", "high"];

/// All commands.
pub const COMMANDS: &[Command] = &[
    Command {
        name: "start",
        about: "Begin a vehicle folder",
        details: "Writes the files of a shipped example into a folder that is new or empty. `starter` is the smallest; \
                  `bench-rig` is the one of the tutorial.",
        arguments: &[
            Argument::place("dir", "DIR", Takes::Path, "the folder to write").must(),
            Argument::option("from-example", "NAME", Takes::Text, "the example to begin with (default: starter)"),
        ],
        examples: &[
            ("loomwright start my-vehicle", "the smallest folder that loads, with comments"),
            ("loomwright start rig --from-example bench-rig", "the bench of the tutorial"),
        ],
        json: false,
        run: run_start,
    },
    Command {
        name: "import",
        about: "Make a vehicle folder from a wire list in a spreadsheet, or bring one up to date with a newer list",
        details: "Reads .xlsx and .csv. The columns are known by their heads and shown with what each was taken for; what could be two \
                  things is asked, with the argument that answers it. Every row is accepted, corrected or refused, and listed. With --update \
                  what was changed by hand in the folder stays: it, the list of the last import and the new one are merged wire by wire, what \
                  both changed is kept as the folder has it and listed, and files written over are kept in imports/backup-N. Ends with 1 where \
                  a wire is missing because its row was refused, or list and folder disagree.",
        arguments: &[
            Argument::place("list", "FILE", Takes::Path, "the wire list").must(),
            Argument::place("dir", "DIR", Takes::Path, "the folder to write, new or empty; with --update one that is there").must(),
            Argument::each(
                "map",
                "KEY=COLUMN",
                "take a column, by its letters or its head, for a field (`from_pin=D`, `note=F`); also `header=4`, `length_unit=ft`, \
                 `current_unit=A`, `decimal=comma`, `connectors=with-unit`; or a file with a line for each",
            ),
            Argument::each("sheet", "SHEET", "read this sheet, by name or number; `all` reads all"),
            Argument::flag("update", "merge the list into a folder that is there"),
            Argument::flag("preview", "show what would be done and write nothing"),
            Argument::flag("all", "list every row and conflict, not only the first of each"),
        ],
        examples: &[
            ("loomwright import wires.csv my-vehicle", "a new folder from a list"),
            ("loomwright import wires.csv my-vehicle --preview", "look first"),
            ("loomwright import wires.csv my-vehicle --map length_unit=m", "with an answer"),
            ("loomwright import wires.csv . --update", "a newer list into the folder here"),
        ],
        json: true,
        run: run_import,
    },
    Command {
        name: "check",
        about: "Judge every rule in every phase and corner",
        details: "Prints each rule with its findings, worst first, the subject next to its limit, and what could not be judged. \
                  Accepted findings stay listed and counted. The counts of recalled and assumed values are those that something \
                  judged rests on.",
        arguments: &[
            Argument::place("dir", "DIR", Takes::Path, "the vehicle's folder (default: that of -C, or here)"),
            Argument::flag(
                "all",
                "list every finding and margin, not only the ten worst findings of a rule and the margin next to its limit",
            ),
            Argument::flag("strict", "count accepted findings and what was not judged as open"),
            TODAY,
        ],
        examples: &[
            ("loomwright check", "the vehicle in this folder"),
            ("loomwright check --all", "with every margin"),
            ("loomwright check --json", "for a program"),
        ],
        json: true,
        run: run_check,
    },
    Command {
        name: "show",
        about: "Print a table of computed or entered values",
        details: "voltages: loads, sources, buses (--all: every end), and what each sensor's receiver reads.\n\
                  currents: every conductor, positive from `from` to `to`.\n\
                  drops: each load's drop from its bus in the worst state (--all: every state).\n\
                  wires, pins, connectors: as understood from the input (connectors --all: also halves that follow from a unit's own).\n\
                  pins: what lands on each, with the least and greatest volts (--phase or --all: those of each phase).\n\
                  ampacity: each wire's current against what its tables let it carry in its bundle, in the worst state (--all: every state).\n\
                  temperatures: each wire's conductor in the segment and state in which it is nearest to its limit, what sets that, what it \
                  may carry there, and the table's figure beside it (--all: every segment and state; with NAME also a segment).\n\
                  protection: each breaker, fuse and limiter with what it guards, what faults there draw and when it opens; faultcurrents: of each \
                  fed wire the largest and the smallest fault and what clears it (with NAME also near, half-way and far).\n\
                  mass: of the harness by kind, section, segment and circuit; computed, allowance and growth apart; what is not known by name.\n\
                  functions: what each needs, where that is off, and where it is on and gets nothing.\n\
                  cuts: by the wiring alone, which elements each leave a function no way, which pairs do, and what redundant ways share \
                  (with FUNCTION or --all: every element and pair).\n\
                  routes: the segments of each wire, what moved it off its shortest way, where its path breaks (with NAME also a segment or \
                  breakout: the wires that pass it).\n\
                  lengths: of each wire, and what a length from its route is made of.\n\
                  catalog: values of the wire types, contact sizes and arrangements in use; profile: every limit. Each with its source \
                  and how it is known: read, recalled from memory, common practice, or given by the vehicle's own catalog.\n\
                  bundles: every segment with its wires, diameter, narrowest opening, bend, longest free stretch and its first frequency.\n\
                  bundle SEGMENT: what lies in it, circle by circle; with -o its cross-section as a drawing (SVG): numbers in circles and a \
                  legend, shaded by temperature where heat is known (in the phase or, without one, the state where it is hottest).\n\
                  curve NAME: of a breaker, fuse or limiter, or the one that guards a wire, its shortest time in the hottest and its longest in the coldest \
                  surroundings (of the phase, else of all), the device above it, starts behind it, fault currents, and how long its thinnest wire \
                  stands a current; with -o as a drawing (SVG) on log scales.\n\
                  timeline: charge, current and voltage of each battery whose type is named, at the beginning and end of each phase and where something happens \
                  (--all: at every step); with -o as a drawing (SVG) of the low corner. energy: what sources gave, loads took and each kind of element lost, \
                  by phase. loads: what each load draws: peak, over 5 s, over 5 min, continuous. budget: of each battery from its rated charge to what the mission \
                  leaves, and the charge to take out while it is fresh.\n\
                  margins: every rule and subject (with NAME: the values it rests on; --rule: one rule, worst first).\n\
                  readiness: of each rule, connector and net of the harness what is open, accepted or not judged (--all: also those that are simply predicted).\n\
                  open: values that are TBD or TBC, and those assumed or recalled that a judged result rests on (--all: all of them).",
        arguments: &[
            Argument::place("what", "WHAT", Takes::Text, "the table").must().of(WHAT),
            Argument::place("name", "NAME", Takes::Texts, "only these: `load:F1`, or a bare name; of pins also a connector"),
            PHASE,
            Argument::option("rule", "RULE", Takes::Text, "only margins of this rule, worst first"),
            Argument::flag("all", "everything instead of the usual"),
            Argument::option("output", "FILE", Takes::Path, "bundle, curve, timeline: the drawing to write; `-` prints it").short('o'),
            FORCE,
        ],
        examples: &[
            ("loomwright show voltages", "loads, sources, buses and sensors"),
            ("loomwright show drops --all", "every load in every state"),
            ("loomwright show ampacity", "every wire against its tables"),
            ("loomwright show temperatures", "every wire against what limits its temperature"),
            ("loomwright show protection", "what each device guards, and when it opens"),
            ("loomwright show faultcurrents", "every fed wire, shorted"),
            ("loomwright show timeline", "the charge of every battery through the mission"),
            ("loomwright show energy", "what was given, taken and lost in each phase"),
            ("loomwright show loads", "the load analysis"),
            ("loomwright show budget", "where a battery's charge goes"),
            ("loomwright show mass", "the harness in grams, by kind and circuit"),
            ("loomwright show currents --json", "for a program"),
            ("loomwright show margins --rule VD-01", "one rule, worst first"),
            ("loomwright show bundles", "each segment's diameter, opening, bend and span"),
            ("loomwright show curve CB1 -o cb1.svg", "when a breaker opens, as a drawing"),
            ("loomwright show profile", "every limit and where it comes from"),
            ("loomwright show lengths", "every wire, and where its length comes from"),
            ("loomwright show readiness", "what still stands in the way, by rule, connector and net"),
            ("loomwright show open", "what is TBD, TBC, assumed, recalled"),
        ],
        json: true,
        run: run_show,
    },
    Command {
        name: "trace",
        about: "Follow the volts from a source to a load and back",
        details: "Each element on the way with its ohms, amperes and volts. Without --phase and --corner: the state in which \
                  the subject stands worst.",
        arguments: &[
            Argument::place("name", "NAME", Takes::Text, "a load, wire, sensor, receiver, other element or pin: `load:F1`, or a bare name")
                .must(),
            PHASE,
            Argument::option("corner", "CORNER", Takes::Text, "this corner").of(CORNERS),
        ],
        examples: &[
            ("loomwright trace load:radio", "in its worst state"),
            ("loomwright trace radio --phase work --corner typical", "in a given state"),
        ],
        json: true,
        run: run_trace,
    },
    Command {
        name: "whatif",
        about: "Say what changes when something is switched, opened, shorted, lost or draws something else",
        details: "Settles and judges every phase and corner again with the changes, and holds the result against the vehicle as \
                  planned: loads that lose or gain power, buses that lose their source, findings that come and go, volts that move by \
                  more than 10 mV, readings by more than 10 µV, currents by more than 10 mA; farthest first. Changes can be given \
                  more than once and are made together. Names are `kind:name`, or bare where only one thing has them; a place is a \
                  pin, bus, node, splice, stud, ground, shell or case, `W12@0.5` half-way along a wire, or `structure`.",
        arguments: &[
            Argument::each("phase", "PHASE", "only this phase"),
            OPEN,
            CLOSE,
            OHM,
            STUCK,
            SHORT,
            LOSE,
            CUT,
            FIT,
            UNFIT,
            SET_LOAD,
            ZONE,
            ALL_ROWS,
        ],
        examples: &[
            ("loomwright whatif --open CB2", "what hangs on the breaker"),
            ("loomwright whatif --phase work --ohm J4.1=200mohm", "a bad contact"),
            ("loomwright whatif --short W4@0.5 --stuck CB1=closed", "a chafed wire, its breaker stuck"),
            ("loomwright whatif --set-load radio=80W --json", "for a program"),
        ],
        json: true,
        run: run_what_if,
    },
    Command {
        name: "endure",
        about: "Say how long what must be kept lasts, and what to shed and when so that it lasts as long as needed",
        details: "What must be kept are the loads of functions with must_keep. What else to keep follows from tiers: as much of tier 1 as can be, then of tier 2 and so on, by hours \
                  and the worth of each function; time comes before all of them. Every plan is followed in full through network and batteries in the low corner, with restart limits, least \
                  times on, inrush, bus voltages and ratings. Without options: from the first phase to the end of the mission, nothing lost. Words as of `whatif` say what is lost. \
                  Ends with 1 where what must be kept does not last or has no power.",
        arguments: &[
            Argument::option(
                "from-phase",
                "PHASE[+TIME]",
                Takes::Text,
                "the phase one is in, and since how long: `coast+12h` (default: the first)",
            ),
            Argument::option("need", "TIME", Takes::Text, "how long is needed: `60h` (default: the rest of the mission)"),
            Argument::option(
                "state",
                "FILE",
                Takes::Path,
                "begin from what was measured: phase, charge used, temperatures, voltages, currents, breaker positions (see the manual, endurance)",
            ),
            Argument::option(
                "periods",
                "N",
                Takes::Text,
                "cut the time into about so many periods within which nothing is switched (default: 24)",
            ),
            OPEN,
            CLOSE,
            OHM,
            STUCK,
            SHORT,
            LOSE,
            CUT,
            FIT,
            UNFIT,
            SET_LOAD,
            ZONE,
        ],
        examples: &[
            ("loomwright endure", "the whole mission, nothing lost"),
            ("loomwright endure --from-phase docked --lose battery:BT2", "from a phase on, with a battery lost"),
            ("loomwright endure --from-phase docked+40h --need 6h", "40 hours into a phase, for a time"),
            ("loomwright endure --state measured/docked.toml --json", "from what was measured, for a program"),
        ],
        json: true,
        run: run_endure,
    },
    Command {
        name: "faults",
        about: "Say what each single fault does to each function",
        details: "Lists every single fault that the design can have, lays each over every phase in one corner, follows what burns until devices open, \
                  in every order that their bands allow, and what then opens for overload; of what is left it says how each function stands: kept, kept with \
                  one path fewer, upset, degraded, restored by an action, lost; and whether a monitor tells of it, a test on the ground alone, or nothing. \
                  A fault's id is the words that `whatif` takes. Ends with 1 for findings; Ctrl-C prints or writes what was done, marked partial; of lines (-o FILE.jsonl) --resume goes on.",
        arguments: &[
            Argument::each("only", "X", "only these faults: a kind (`wire-open`), an item (`wire:W12`) or an id"),
            Argument::flag("list", "list the faults and their ids, and work out none"),
            Argument::flag("pairs", "two faults at a time: which pairs lose a function that neither of the two loses alone"),
            Argument::each("phase", "PHASE", "with --pairs: only in this phase"),
            Argument::flag("each", "with --pairs: follow each sequence by itself, also where its outcome is known to be that of another"),
            FAULT_CORNER,
            Argument::option(
                "shard",
                "K/N",
                Takes::Text,
                "only the K-th of N parts, written with -o FILE.jsonl; `merge` puts them together",
            ),
            Argument::option("resume", "FILE", Takes::Path, "go on with a sweep that was stopped: lines that -o FILE.jsonl wrote"),
            FAULTS_OUTPUT,
            FORCE,
            TODAY,
            ALL_ROWS,
        ],
        examples: &[
            ("loomwright faults", "every fault in every phase"),
            ("loomwright faults --list", "the catalogue, with ids"),
            ("loomwright faults --only wire-open --only wire:W4", "some of them"),
            ("loomwright faults --pairs --only wire-open", "two of them at a time"),
            ("loomwright faults -o modes.xlsx", "the table of failure modes"),
            ("loomwright faults -o matrix.svg", "functions and groups of faults, drawn"),
            ("loomwright faults --shard 1/2 -o part-1.jsonl", "half of them, on one of two machines"),
            ("loomwright faults --json", "for a program"),
        ],
        json: true,
        run: faults::run,
    },
    Command {
        name: "merge",
        about: "Put parts of a sweep over faults together",
        details: "Reads what `faults --shard K/N -o FILE.jsonl` wrote of this vehicle, on however many machines, and says what the whole sweep would have said. Parts of other \
                  files of the vehicle, of another version of the program or with other arguments are refused, as are parts that are missing, there twice or were stopped. Ends with 1 for findings.",
        arguments: &[
            Argument::place("parts", "FILE", Takes::Texts, "the parts, in any order").must(),
            FAULTS_OUTPUT,
            FORCE,
            TODAY,
            ALL_ROWS,
        ],
        examples: &[
            ("loomwright merge part-1.jsonl part-2.jsonl", "two halves"),
            ("loomwright merge part-1.jsonl part-2.jsonl -o modes.csv", "their failure modes"),
        ],
        json: true,
        run: faults::merge,
    },
    Command {
        name: "separate",
        about: "Say what happens when connectors part, in every state in between",
        details: "Follows each separation: what is commanded when, with steps that come late and devices that stick; every state in which some contacts have parted and others \
                  have not, as times, short and long contacts allow, for the greatest current in signal contacts, in feeds without a return of their own and in last contacts, for the \
                  shift of each unit's reference, least voltages and reverse feed; other orders of contacts; live stubs, references and loads afterwards; who commands what; what a \
                  blade bridges. Contacts on no loop carry nothing and are left out. Up to 9 contacts on loops every state is settled; up to 18 every one is solved with loads \
                  as resistances and the worst are settled; above, branch and bound, and what a value is at most where that stops. Ends with 1 for findings.",
        arguments: &[TODAY, Argument::flag("all", "print all rows, not only the first of a list")],
        examples: &[("loomwright separate", "every separation of the vehicle"), ("loomwright separate --json", "for a program")],
        json: true,
        run: run_separate,
    },
    Command {
        name: "why",
        about: "Say why a fault does to a function what it does",
        details: "The devices that open with their times, the voltages before, while it burns, after and with the action that helps, and of each load that has lost \
                  its power the way that it had, with what is cut in it.",
        arguments: &[
            Argument::place(
                "fault",
                "FAULT",
                Takes::Text,
                "the fault's id, in quotes where it has blanks: \"open wire:W12\", open=wire:W12",
            )
            .must(),
            Argument::place("function", "FUNCTION", Takes::Text, "the function").must(),
            FAULT_CORNER,
            Argument::option("phase", "PHASE", Takes::Text, "the phase (default: the one in which the function stands worst)"),
        ],
        examples: &[("loomwright why open=wire:W1 talk --phase work", "one case in full")],
        json: true,
        run: run_why,
    },
    Command {
        name: "build",
        about: "Write the documents that the shop builds from and the bench tests by",
        details: "Lists (wires, cuts, spools, cables, shield ends, labels, pin tables, joints, parts, ties and clamps, close-out, connectors that could be mated \
                  wrongly) and test sheets (crimp set-up, seating, continuity, withstand, isolation, bonds, polarity, safe-to-mate, first power-on, ordnance), each as \
                  CSV, as a sheet of one workbook and on paper (PDF); the formboard at full size (SVG, DXF, tiles for A4 and Letter), wiring diagrams and insert faces (SVG, PDF). The folder is written whole or not at all; one \
                  that holds other files is left alone. The same vehicle and date give the same bytes.",
        arguments: &[
            Argument::option("output", "DIR", Takes::Path, "the folder to write: new, empty, or of an earlier run").short('o').must(),
            Argument::option("date", "DATE", Takes::Text, "the day that stands on every document (YYYY-MM-DD)"),
            Argument::flag("force", "write over documents that were changed since they were written"),
        ],
        examples: &[
            ("loomwright build -o documents --date 2027-03-01", "all documents, dated"),
            ("loomwright build -o documents --json", "for a program"),
        ],
        json: true,
        run: run_build,
    },
    Command {
        name: "explain",
        about: "Say what a rule judges, why, against what, and what mends it",
        details: "Without a rule: all rules, a line each.",
        arguments: &[Argument::place("rule", "RULE", Takes::Text, "code of the rule")],
        examples: &[("loomwright explain VD-01", "the drop from bus to load"), ("loomwright explain", "all rules")],
        json: true,
        run: run_explain,
    },
    Command {
        name: "export",
        about: "Write the network of one state for another program",
        details: "spice: a netlist for a generic circuit simulator. Every element is written by its law; no solved voltage or \
                  current stands in it.",
        arguments: &[
            Argument::place("kind", "KIND", Takes::Text, "what to write").must().of(&["spice"]),
            Argument::option("output", "FILE", Takes::Path, "the file to write; `-` prints it").short('o').must(),
            Argument::option("phase", "PHASE", Takes::Text, "the phase").must(),
            Argument::option("corner", "CORNER", Takes::Text, "the corner").of(CORNERS).must(),
            FORCE,
        ],
        examples: &[
            ("loomwright export spice -o work-low.cir --phase work --corner low", "to a file"),
            ("loomwright export spice -o - --phase work --corner typical", "to standard output"),
        ],
        json: false,
        run: run_export,
    },
    Command {
        name: "schema",
        about: "Write the schema of the input files for an editor",
        details: "JSON Schema, draft 2020-12, of the TOML files: keys, words, units, ranges, and what each means. An editor that knows \
                  TOML completes and marks with it; the first line of a file names it: `#:schema ./vehicle.schema.json`.",
        arguments: &[Argument::option("output", "FILE", Takes::Path, "the file to write (default: print it)").short('o'), FORCE],
        examples: &[("loomwright schema -o vehicle.schema.json", "beside the files of the vehicle")],
        json: false,
        run: run_schema,
    },
    Command {
        name: "completions",
        about: "Print a completion script for a shell",
        details: "",
        arguments: &[Argument::place("shell", "SHELL", Takes::Text, "the shell").must().of(&[
            "bash",
            "elvish",
            "fish",
            "powershell",
            "zsh",
        ])],
        examples: &[("loomwright completions bash", "for bash")],
        json: false,
        run: run_completions,
    },
];

fn run_start(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let folder = path(args, "dir").unwrap_or_default();
    let example = text(args, "from-example").unwrap_or_else(|| "starter".to_owned());
    let files = start::start(session, &folder, &example)?;
    let shown = folder.display().to_string();
    if session.json {
        let object = serde_json::json!({
            "format": outputs::json::FORMAT, "command": "start", "folder": shown, "files": files
        });
        session.print(&to_text(&object))?;
    } else {
        let quoted = if shown.contains(char::is_whitespace) { format!("'{shown}'") } else { shown.clone() };
        session.print(&format!("{shown}: {} written\nnext?    loomwright check {quoted}\n", files.join(", ")))?;
    }
    Ok(CLEAN)
}

fn run_import(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let all = |id: &str| args.get_many::<String>(id).into_iter().flatten().cloned().collect();
    let wanted = import::Wanted {
        list: path(args, "list").unwrap_or_default(),
        folder: path(args, "dir").unwrap_or_default(),
        maps: all("map"),
        sheets: all("sheet"),
        update: args.get_flag("update"),
        preview: args.get_flag("preview"),
        every: args.get_flag("all"),
    };
    import::import(session, &wanted)
}

fn run_check(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let today = today(args)?;
    let folder = session.vehicle_folder(path(args, "dir").as_ref());
    let (every, strict) = (args.get_flag("all"), args.get_flag("strict"));
    let asks = if every { Asks::EVERYTHING } else { Asks::USUAL };
    with_view(session, &folder, (asks, today.as_deref()), |session, view| {
        let text = match session.json {
            true => to_text(&view.check_json(today.as_deref())),
            false => outputs::check(view, today.as_deref(), every, session.style),
        };
        session.print(&text)?;
        Ok(exit_code(view.verdict, strict))
    })
}

fn run_show(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let what = text(args, "what").unwrap_or_default();
    let asked_names: Vec<String> = args.get_many::<String>("name").into_iter().flatten().cloned().collect();
    let folder = session.vehicle_folder(None);
    with_view(session, &folder, (asks_of(&what, session.json), None), |session, view| {
        names::known(view.design, &asked_names)?;
        let phase = text(args, "phase").map(|name| names::phase(view.design, &name)).transpose()?;
        let rule = text(args, "rule").map(|code| rule_of(&code)).transpose()?.map(|rule| rule.code);
        if what == "bundle" {
            return show_bundle(session, view, args, &asked_names, phase);
        }
        if what == "curve" {
            return show_curve(session, view, args, &asked_names, phase);
        }
        if what == "timeline"
            && let Some(file) = path(args, "output")
        {
            write::output(session, &file, outputs::timeline_svg(view, Corner::Low).as_bytes(), args.get_flag("force"))?;
            return Ok(CLEAN);
        }
        if path(args, "output").is_some() || args.get_flag("force") {
            return Err(Failure::Problem(format!(
                "show {what} prints a table; -o and --force belong to show bundle SEGMENT, show curve NAME and show timeline"
            )));
        }
        let asked = Asked { names: asked_names, phase, rule, all: args.get_flag("all") };
        if what == "cuts" {
            return show_cuts(session, view, &asked);
        }
        let text = match session.json {
            true => shown_json(view, &what, &asked),
            false => shown_text(view, &what, &asked, session.style),
        };
        session.print(&text)?;
        Ok(CLEAN)
    })
}

/// What a table rests on. As JSON every table says what was recalled and what could not be judged.
fn asks_of(what: &str, json: bool) -> Asks {
    let judged = json || ["connectors", "margins", "open", "readiness"].contains(&what);
    let usual = if judged { Asks::USUAL } else { Asks::STATES };
    match what {
        "protection" | "faultcurrents" | "curve" => Asks { faults: Stage::Always, ..usual },
        "timeline" | "energy" | "budget" => Asks { mission: Stage::Always, ..usual },
        _ => usual,
    }
}

/// Cut sets of functions; of those that are named every pair, and listed in full.
fn show_cuts(session: &mut Session, view: &View, asked: &Asked) -> Result<u8, Failure> {
    let named = !asked.names.is_empty();
    asked.names.iter().try_for_each(|name| names::function(view.design, name).map(|_| ()))?;
    let wants = |id: Id<Function>| asked.wants("function", &view.design.functions[id].name);
    let points: Vec<&Point> = asked.points(view).collect();
    let table = decide::cuts(view.prepared, &points, wants, named);
    let text = match session.json {
        true => to_text(&view.envelope("show", Some("cuts"), outputs::cuts(view, &table))),
        false => outputs::cuts_text(view, &table, named || asked.all, session.style),
    };
    session.print(&text)?;
    Ok(CLEAN)
}

/// One segment: a table of what lies in it, or its drawing into a file.
fn show_bundle(session: &mut Session, view: &View, args: &ArgMatches, names: &[String], phase: Option<Id<Phase>>) -> Result<u8, Failure> {
    let [name] = names else {
        return Err(Failure::Problem(format!("show bundle takes one segment, and {} are named", names.len())));
    };
    let segment = names::segment(view.design, name)?;
    if let Some(file) = path(args, "output") {
        write::output(session, &file, outputs::bundle_drawing(view, segment, phase).as_bytes(), args.get_flag("force"))?;
        return Ok(CLEAN);
    }
    let text = match session.json {
        true => to_text(&view.envelope("show", Some("bundle"), outputs::bundle(view, segment))),
        false => outputs::bundle_text(view, segment, session.style),
    };
    session.print(&text)?;
    Ok(CLEAN)
}

/// One device, or the one that guards a wire: its times over current as tables, or drawn into a file.
fn show_curve(session: &mut Session, view: &View, args: &ArgMatches, names: &[String], phase: Option<Id<Phase>>) -> Result<u8, Failure> {
    let [name] = names else {
        return Err(Failure::Problem(format!("show curve takes one breaker, fuse, limiter or wire, and {} are named", names.len())));
    };
    let of = names::guarded(view.design, name)?;
    let Some(curve) = outputs::curve(view, of, phase) else {
        return Err(Failure::Problem(format!("no breaker, fuse or limiter guards {name}: show faultcurrents {name} says what feeds it")));
    };
    if let Some(file) = path(args, "output") {
        write::output(session, &file, outputs::curve_svg(view, &curve).as_bytes(), args.get_flag("force"))?;
        return Ok(CLEAN);
    }
    let text = match session.json {
        true => to_text(&view.envelope("show", Some("curve"), vec![outputs::curve_json(view, &curve)])),
        false => outputs::curve_text(view, &curve, session.style),
    };
    session.print(&text)?;
    Ok(CLEAN)
}

fn shown_json(view: &View, what: &str, asked: &Asked) -> String {
    let table = Some(what);
    match what {
        "voltages" => to_text(&view.envelope("show", table, show::voltages(view, asked))),
        "currents" => to_text(&view.envelope("show", table, show::currents(view, asked))),
        "drops" => to_text(&view.envelope("show", table, show::drops(view, asked))),
        "wires" => to_text(&view.envelope("show", table, show::wires(view, asked))),
        "pins" => to_text(&view.envelope("show", table, show::pins(view, asked))),
        "connectors" => to_text(&view.envelope("show", table, outputs::connectors(view, asked))),
        "bundles" => to_text(&view.envelope("show", table, outputs::bundles(view, asked))),
        "functions" => to_text(&view.envelope("show", table, outputs::functions(view, asked))),
        "mass" => to_text(&view.envelope("show", table, outputs::mass(view, asked))),
        "timeline" => to_text(&view.envelope("show", table, outputs::timeline(view, asked))),
        "energy" => to_text(&view.envelope("show", table, outputs::energy(view, asked))),
        "loads" => to_text(&view.envelope("show", table, outputs::loads(view, asked))),
        "budget" => to_text(&view.envelope("show", table, outputs::budgets(view, asked))),
        "ampacity" => to_text(&view.envelope("show", table, outputs::ampacity(view, asked))),
        "temperatures" => to_text(&view.envelope("show", table, outputs::temperatures(view, asked))),
        "protection" => to_text(&view.envelope("show", table, outputs::protection(view, asked))),
        "faultcurrents" => to_text(&view.envelope("show", table, outputs::fault_currents(view, asked))),
        "routes" => to_text(&outputs::routes_json(view, asked)),
        "lengths" => to_text(&view.envelope("show", table, outputs::lengths(view, asked))),
        "catalog" => to_text(&view.envelope("show", table, outputs::catalog(view))),
        "profile" => to_text(&view.envelope("show", table, outputs::profile(view))),
        "margins" => to_text(&view.envelope("show", table, show::margins(view, asked))),
        "readiness" => to_text(&view.envelope("show", table, outputs::readiness(view, asked))),
        _ => to_text(&view.envelope("show", table, show::open(view, asked))),
    }
}

fn shown_text(view: &View, what: &str, asked: &Asked, style: Style) -> String {
    match what {
        "voltages" => show::voltages_text(&show::voltages(view, asked), style),
        "currents" => show::currents_text(&show::currents(view, asked), style),
        "drops" => show::drops_text(&show::drops(view, asked), style),
        "wires" => show::wires_text(&show::wires(view, asked), style),
        "pins" => show::pins_text(&show::pins(view, asked), asked.phase.is_some() || asked.all, style),
        "connectors" => outputs::connectors_text(&outputs::connectors(view, asked), style),
        "bundles" => outputs::bundles_text(&outputs::bundles(view, asked), style),
        "functions" => outputs::functions_text(view, &outputs::functions(view, asked), style),
        "mass" => outputs::mass_text(view, &outputs::mass(view, asked), asked.all, style),
        "timeline" => outputs::timeline_text(view, &outputs::timeline(view, asked), asked, style),
        "energy" => outputs::energy_text(view, &outputs::energy(view, asked), style),
        "loads" => outputs::loads_text(&outputs::loads(view, asked), style),
        "budget" => outputs::budgets_text(view, &outputs::budgets(view, asked), style),
        "ampacity" => outputs::ampacity_text(view, &outputs::ampacity(view, asked), style),
        "temperatures" => outputs::temperatures_text(view, &outputs::temperatures(view, asked), style),
        "protection" => outputs::protection_text(view, &outputs::protection(view, asked), style),
        "faultcurrents" => outputs::fault_currents_text(view, &outputs::fault_currents(view, asked), style),
        "routes" => outputs::routes_text(view, &outputs::routes(view, asked), style),
        "lengths" => outputs::lengths_text(&outputs::lengths(view, asked), style),
        "catalog" => outputs::catalog_text(&outputs::catalog(view), style),
        "profile" => outputs::profile_text(view, &outputs::profile(view), style),
        "margins" => show::margins_text(view, asked, style),
        "readiness" => outputs::readiness_text(&outputs::readiness(view, asked), asked, style),
        _ => show::open_text(&show::open(view, asked), style),
    }
}

fn run_trace(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let name = text(args, "name").unwrap_or_default();
    let folder = session.vehicle_folder(None);
    with_view(session, &folder, (Asks::USUAL, None), |session, view| {
        let subject = names::traceable(view.design, &name)?;
        let phase = text(args, "phase").map(|name| names::phase(view.design, &name)).transpose()?;
        let corner = text(args, "corner").and_then(|word| Corner::ALL.into_iter().find(|corner| corner.word() == word));
        let point = state_to_trace(view, subject, phase, corner);
        let element = outputs::element_of(view, point, subject)
            .ok_or_else(|| Failure::Problem(format!("nothing that carries current lands on {name}")))?;
        let text = match session.json {
            true => to_text(&view.envelope("trace", None, outputs::trace(view, point, element))),
            false => outputs::trace_text(view, point, element, session.style),
        };
        session.print(&text)?;
        Ok(CLEAN)
    })
}

/// The state asked for. Where phase or corner is left open: the one in which the subject has its least margin; without a
/// margin, the low corner of the phase in which it carries most.
fn state_to_trace<'a>(view: &View<'a>, subject: Subject, phase: Option<Id<Phase>>, corner: Option<Corner>) -> &'a Point {
    let margins = view.verdict.margins.iter().filter(|m| m.subject == subject);
    let worst = margins
        .filter_map(|m| m.state.map(|state| (m.margin() / m.limit.abs().max(1e-9), state)))
        .filter(|(_, (p, c))| phase.is_none_or(|phase| phase == *p) && corner.is_none_or(|corner| corner == *c))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let phase = phase.or(worst.map(|(_, (phase, _))| phase));
    let corner = corner.or(worst.map(|(_, (_, corner))| corner)).unwrap_or(Corner::Low);
    let fits = view.points.iter().filter(|point| phase.is_none_or(|p| p == point.scenario.phase) && point.scenario.corner == corner);
    let carries = |point: &Point| outputs::element_of(view, point, subject).map_or(0.0, |e| outputs::carries(view, point, e));
    fits.reduce(|best, next| if carries(next) > carries(best) { next } else { best })
        .expect("study: every phase has a point in every corner")
}

fn run_what_if(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let changes = changes_asked(args);
    if changes.is_empty() {
        return Err(Failure::Problem(
            "nothing is changed: give --open, --close, --ohm, --stuck, --short, --lose, --cut, --fit, --unfit, --set-load or --zone"
                .to_owned(),
        ));
    }
    let phases: Vec<String> = args.get_many::<String>("phase").into_iter().flatten().cloned().collect();
    let folder = session.vehicle_folder(None);
    let asks = if session.json { Asks::USUAL } else { Asks::STATES };
    with_view(session, &folder, (asks, None), |session, view| {
        let phases = phases.iter().map(|name| names::phase(view.design, name)).collect::<Result<Vec<_>, _>>()?;
        let base: Vec<&Point> = view.points.iter().filter(|p| phases.is_empty() || phases.contains(&p.scenario.phase)).collect();
        let names = Names::new(view.design);
        let change = |point: &&Point| decide::change(view.prepared, &names, point.scenario.clone(), &changes, &amount);
        let changed = base.iter().map(change).collect::<Result<Vec<_>, _>>().map_err(Failure::Problem)?;
        let words: Vec<String> =
            decide::words_of_all(view.design, &changed).into_iter().map(|(verb, text)| format!("--{} {text}", verb.word())).collect();
        let case = Case { design: view.design, prepared: view.prepared, today: None };
        let moved = decide::what_if(&case, &base, &changed, session.watch()).ok_or(Failure::Stopped)?;
        let text = match session.json {
            true => to_text(&outputs::what_if_json(view, &words, &moved)),
            false => outputs::what_if(view, &words, &moved, args.get_flag("all"), session.style),
        };
        session.print(&text)?;
        Ok(CLEAN)
    })
}

/// The changes asked for, in the order of the command line: of two words about one thing the later holds.
fn changes_asked(args: &ArgMatches) -> Vec<(Verb, String)> {
    let mut given: Vec<(usize, Verb, String)> = Vec::new();
    for verb in Verb::ALL {
        let indices = args.indices_of(verb.word()).into_iter().flatten();
        let texts = args.get_many::<String>(verb.word()).into_iter().flatten();
        given.extend(indices.zip(texts).map(|(index, text)| (index, verb, text.clone())));
    }
    given.sort_by_key(|(index, ..)| *index);
    given.into_iter().map(|(_, verb, text)| (verb, text)).collect()
}

/// An amount with its unit; of what needs none a plain number.
fn amount(text: &str) -> Result<Amount, String> {
    match quantity::parse_any(text) {
        Ok((Quantity::Pressure, si)) => Ok(Amount::Pressure(Pascal(si))),
        Ok((Quantity::Temperature, si)) => Ok(Amount::Temperature(Kelvin(si))),
        Ok((Quantity::Speed, si)) => Ok(Amount::Speed(MetrePerSecond(si))),
        Ok((Quantity::HeatFlux, si)) => Ok(Amount::Flux(WattPerSquareMetre(si))),
        Err(quantity::Fault::NoUnit) => match text.trim().parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Amount::Plain(number)),
            _ => Err(format!("{text:?} is no number")),
        },
        Ok((Quantity::Resistance, si)) => Ok(Amount::Resistance(Ohm(si))),
        Ok((Quantity::Power, si)) => Ok(Amount::Power(Watt(si))),
        Ok((Quantity::Current, si)) => Ok(Amount::Current(Ampere(si))),
        Ok((other, _)) => Err(format!(
            "{text:?} is {}; a resistance, power, current, pressure, temperature, speed or power per area can stand here",
            other.title()
        )),
        Err(fault) => {
            let (what, help) = quantity::explain(&fault, text, Quantity::Resistance);
            Err(format!("{what}; {help}"))
        }
    }
}

/// A time with its unit, above or at zero.
fn time(option: &str, text: &str) -> Result<Second, Failure> {
    match quantity::parse(text, Quantity::Duration) {
        Ok(seconds) if seconds >= 0.0 => Ok(Second(seconds)),
        Ok(_) => Err(Failure::Problem(format!("{option} {text}: a time is no less than nothing"))),
        Err(fault) => {
            let (what, help) = quantity::explain(&fault, text, Quantity::Duration);
            Err(Failure::Problem(format!("{option} {text}: {what}; {help}")))
        }
    }
}

fn run_endure(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let need = text(args, "need").map(|word| time("--need", &word)).transpose()?;
    let periods = match text(args, "periods") {
        None => decide::PERIODS,
        Some(word) => match word.parse::<usize>() {
            Ok(n) if (1..=500).contains(&n) => n,
            _ => return Err(Failure::Problem(format!("--periods {word}: a whole number from 1 to 500"))),
        },
    };
    let changes = changes_asked(args);
    let (phase, into) = match text(args, "from-phase") {
        None => (None, Second(0.0)),
        Some(word) => match word.split_once('+') {
            None => (Some(word), Second(0.0)),
            Some((phase, since)) => (Some(phase.to_owned()), time("--from-phase", since)?),
        },
    };
    let file = path(args, "state")
        .map(|path| folder::read_one(&session.path(&path)).map(|bytes| (path.display().to_string(), bytes)))
        .transpose()?;
    let folder = session.vehicle_folder(None);
    let asks = if session.json { Asks::USUAL } else { Asks::STATES };
    with_view(session, &folder, (asks, None), |session, view| {
        let first = view.design.phases.ids().next().expect("design: a phase is made up where none is named");
        let named = phase.as_deref().map(|name| names::phase(view.design, name)).transpose()?;
        let measured = match &file {
            None => Measured::default(),
            Some((path, bytes)) => input::state::measured(view.design, path, bytes).map_err(Failure::Diagnostics)?,
        };
        let (from, into) = match (named, measured.phase) {
            (Some(_), Some(_)) => {
                return Err(Failure::Problem("--from-phase and the measured state both name a phase: take one of them away".to_owned()));
            }
            (Some(named), None) => (named, measured.since.map_or(into, |since| since.value)),
            (None, stated) => (stated.map_or(first, |given| given.value), measured.since.map_or(Second(0.0), |since| since.value)),
        };
        let asked = Emergency { changes: &changes, from, into, need, periods };
        endure_with(session, view, &asked, &measured)
    })
}

/// What `endure` is asked.
struct Emergency<'a> {
    changes: &'a [(Verb, String)],
    from: Id<Phase>,
    into: Second,
    need: Option<Second>,
    periods: usize,
}

fn endure_with(session: &mut Session, view: &View, asked: &Emergency, measured: &Measured) -> Result<u8, Failure> {
    if let Some(lasts) = view.design.phases[asked.from].duration
        && asked.into >= lasts.value
    {
        let name = &view.design.phases[asked.from].name;
        let lasts = quantity::show(lasts.value.0, Quantity::Duration);
        return Err(Failure::Problem(format!("--from-phase {name}: it lasts {lasts}, so nothing of it is left")));
    }
    let names = Names::new(view.design);
    let low: Vec<&Point> = view.points.iter().filter(|p| p.scenario.corner == Corner::Low).collect();
    // How devices stand comes first, so that a word of the command line holds over it.
    let stands: Vec<(ElementId, Commanded)> =
        measured.states.iter().map(|given| given.value).filter(|state| differs(view, asked.from, *state)).collect();
    let change = |point: &&Point| {
        let mut scenario = point.scenario.clone();
        for &(element, commanded) in &stands {
            match element {
                ElementId::Load(load) => {
                    scenario.loads.push((load, if commanded == Commanded::On { LoadChange::On } else { LoadChange::Off }))
                }
                _ => scenario.switches.push((element, commanded)),
            }
        }
        decide::change(view.prepared, &names, scenario, asked.changes, &amount)
    };
    let scenarios = low.iter().map(change).collect::<Result<Vec<_>, _>>().map_err(Failure::Problem)?;
    let is_changed = !asked.changes.is_empty() || !stands.is_empty();
    let words = decide::words_of_all(view.design, &scenarios).into_iter().map(|(verb, text)| format!("--{} {text}", verb.word())).collect();
    let points: Vec<Point> = low
        .iter()
        .zip(&scenarios)
        .map(|(point, scenario)| match is_changed {
            false => (*point).clone(),
            true if view.design.zones.is_empty() => view.prepared.near(point).point(scenario),
            true => view.prepared.point(&Scenario { conductors: None, ..scenario.clone() }),
        })
        .collect();
    let unchanged: Vec<Point> = low.iter().map(|point| (*point).clone()).collect();
    let (start, lines) = start_of(view, asked, &points, measured);
    let ask = |standing: Vec<BatteryStart>| decide::Ask {
        points: &points,
        unchanged: &unchanged,
        from: asked.from,
        into: asked.into,
        need: asked.need,
        standing,
        periods: asked.periods,
    };
    let found =
        decide::endure(view.prepared, &ask(start.low.clone()), session.watch()).ok_or(Failure::Stopped)?.map_err(Failure::Problem)?;
    // The plan is made for the least charge that fits; what the greatest would allow is said beside it.
    let high = match start.low == start.high {
        true => None,
        false => Some(decide::lasts_bare(view.prepared, &ask(start.high)).map_err(Failure::Problem)?),
    };
    let beside = outputs::Beside { changes: words, measured: lines, high };
    let text = match session.json {
        true => to_text(&outputs::endure_json(view, &found, &beside)),
        false => outputs::endure_text(view, &found, &beside, session.style),
    };
    session.print(&text)?;
    Ok(if outputs::lasts(view.design, &found) { CLEAN } else { FINDINGS })
}

/// Whether a measured state differs from what the phase commands.
fn differs(view: &View, phase: Id<Phase>, (element, measured): (ElementId, Commanded)) -> bool {
    let design = view.design;
    let own = match element {
        ElementId::Load(id) => design.loads[id].on,
        ElementId::Switch(id) => design.switches[id].closed,
        _ => true,
    };
    let states = design.phases[phase].states.iter().rev();
    let commanded = states.map(|state| state.value).find(|(of, _)| *of == element).map_or(own, |(_, commanded)| commanded == Commanded::On);
    commanded != (measured == Commanded::On)
}

/// Where the batteries start, and what is said of the measurements.
fn start_of(view: &View, asked: &Emergency, points: &[Point], measured: &Measured) -> (Start, Vec<String>) {
    let Some(point) = points.iter().find(|point| point.scenario.phase == asked.from) else { return (Start::default(), Vec::new()) };
    let rows: Vec<BatteryMeasured> = measured
        .batteries
        .iter()
        .map(|row| BatteryMeasured {
            battery: row.battery,
            used: row.used.map(|given| given.value),
            temperature: row.temperature.map(|given| given.value),
            activated: row.activated.map(|given| given.value),
            volts: row.volts.map(|(given, within)| (given.value, within)),
            current: row.current.map(|given| given.value),
        })
        .collect();
    let start = decide::measured::batteries(view.prepared, point, &rows);
    let mut lines: Vec<String> = start.taken.iter().map(|line| format!("measured  {line}")).collect();
    for given in measured.states.iter().filter(|given| differs(view, asked.from, given.value)) {
        let (element, commanded) = given.value;
        let word = match (element, commanded) {
            (ElementId::Load(_), Commanded::On) => "on",
            (ElementId::Load(_), Commanded::Off) => "off",
            (_, Commanded::On) => "closed",
            (_, Commanded::Off) => "open",
        };
        lines.push(format!(
            "measured  {} is {word}, otherwise than phase {} commands: taken as it is",
            view.design.element_words(element),
            view.design.phases[asked.from].name
        ));
    }
    let high = view.prepared.near(point).point(&Scenario { corner: Corner::High, ..point.scenario.clone() });
    let buses: Vec<_> = measured.buses.iter().map(|(bus, volts, within)| (*bus, volts.value, *within)).collect();
    let of_batteries = measured.batteries.iter().filter_map(|row| Some((ElementId::Source(row.battery), row.current?.value)));
    let currents: Vec<_> = of_batteries.chain(measured.currents.iter().map(|(element, given)| (*element, given.value))).collect();
    let others = decide::measured::not_borne_out(view.prepared, &[point, &high], &start, &buses, &currents);
    lines.extend(start.contradictions.iter().chain(&others).map(|line| format!("CONTRADICTS the model  {line}")));
    (start, lines)
}

fn run_separate(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let today = today(args)?;
    let all = args.get_flag("all");
    let folder = session.vehicle_folder(None);
    let asks = if session.json { Asks::USUAL } else { Asks::STATES };
    with_view(session, &folder, (asks, today.as_deref()), |session, view| {
        let table = decide::separate(view.prepared, view.points, decide::Limits::default(), session.watch());
        let case = Case { design: view.design, prepared: view.prepared, today: today.as_deref() };
        let judged = rules::judge_separation(&case, &table);
        let followed = outputs::Separated { table: &table, verdict: &judged, fault_id: &|fault| decide::fault_id(view.prepared, fault) };
        let text = match session.json {
            true => to_text(&outputs::separate_json(view, &followed)),
            false => outputs::separate(view, &followed, all, session.style),
        };
        session.print(&text)?;
        match table.partial {
            true => Err(Failure::Stopped),
            false => Ok(exit_code(&judged, false)),
        }
    })
}

fn run_why(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let (id, name) = (text(args, "fault").unwrap_or_default(), text(args, "function").unwrap_or_default());
    let corner = faults::corner(args);
    let phase = text(args, "phase");
    let folder = session.vehicle_folder(None);
    with_view(session, &folder, (Asks::USUAL, None), |session, view| {
        let phase = phase.map(|name| names::phase(view.design, &name)).transpose()?;
        let function = names::function(view.design, &name)?;
        decide::with_sweep_in(view.prepared, view.points, view.verdict, corner, |sweep| {
            let at = decide::find_fault(view.prepared, sweep.catalogue(), &id, &amount).map_err(Failure::Problem)?;
            let fault = &sweep.catalogue().faults[at];
            let id = decide::fault_id(view.prepared, fault);
            let phases: Vec<Id<Phase>> = phase.map_or_else(|| view.design.phases.ids().collect(), |phase| vec![phase]);
            let of = |told: &decide::Told| told.case.functions.iter().find(|case| case.function == function).copied();
            let told = phases.iter().filter_map(|&phase| sweep.tell(at, phase));
            let worst = told.reduce(|a, b| if of(&b).map(|case| case.effect) > of(&a).map(|case| case.effect) { b } else { a });
            let Some(told) = worst else {
                return Err(Failure::Problem(format!(
                    "{id} changes nothing in {}",
                    if phase.is_some() { "that phase" } else { "any phase" }
                )));
            };
            if !sweep.wants(told.case.phase, function) {
                let phase = &view.design.phases[told.case.phase].name;
                return Err(Failure::Problem(format!("function {name} is not wanted or does not work without a fault in phase {phase}")));
            }
            let kept = FunctionCase { function, effect: Effect::Kept, reason: Reason::Works, intermittent: None };
            let acted = told.with_action.iter().find(|(of, ..)| *of == function).map(|(.., point)| point);
            let explained = outputs::Explained {
                id: &id,
                fault,
                function,
                case: of(&told).unwrap_or(kept),
                phase: &told.case,
                before: &told.before,
                burning: told.burning.as_ref(),
                after: &told.after,
                acted,
                latest: told.latest.as_ref(),
            };
            let text = match session.json {
                true => to_text(&outputs::why_json(view, &explained)),
                false => outputs::why(view, &explained, session.style),
            };
            session.print(&text)?;
            Ok(CLEAN)
        })
    })
}

fn run_build(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let date = text(args, "date");
    if let Some(day) = date.as_deref().filter(|day| !is_date(day)) {
        return Err(Failure::Problem(format!("--date {day}: write the day as YYYY-MM-DD")));
    }
    let to = session.path(path(args, "output").unwrap_or_default());
    let folder = session.vehicle_folder(None);
    with_view(session, &folder, (Asks::STATES, None), |session, view| {
        let issue = outputs::shop::Issue::new(view, date.as_deref());
        let files = outputs::shop::documents(view, &issue).map_err(Failure::Output)?;
        let names: Vec<String> = files.iter().map(|(name, _)| name.clone()).collect();
        let heading = issue.heading();
        let count = build::write(&to, &heading, files, args.get_flag("force"))?;
        let text = match session.json {
            true => to_text(&outputs::shop::written_json(view, &to.display().to_string(), &names)),
            false => format!("{}: {}, {heading}\n", to.display(), outputs::number::counted(count, "file")),
        };
        session.print(&text)?;
        Ok(CLEAN)
    })
}

fn run_explain(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let rules = match text(args, "rule") {
        None => rules::RULES.to_vec(),
        Some(code) => vec![rule_of(&code)?],
    };
    let text = match rules[..] {
        _ if session.json => to_text(&outputs::json::rules_json(&rules)),
        [rule] => outputs::explain(rule, session.style),
        _ => outputs::rule_list(session.style),
    };
    session.print(&text)?;
    Ok(CLEAN)
}

fn rule_of(code: &str) -> Result<&'static rules::Rule, Failure> {
    rules::explain(code).ok_or_else(|| {
        let codes: Vec<&str> = rules::RULES.iter().map(|rule| rule.code.0).collect();
        Failure::Problem(format!("no rule {code}; there are {}", codes.join(", ")))
    })
}

fn run_export(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let folder = session.vehicle_folder(None);
    with_view(session, &folder, (Asks::STATES, None), |session, view| {
        let phase = names::phase(view.design, &text(args, "phase").unwrap_or_default())?;
        let word = text(args, "corner").unwrap_or_default();
        let fits = |point: &&Point| point.scenario.phase == phase && point.scenario.corner.word() == word;
        let point = view.points.iter().find(fits).expect("study: every phase has a point in every corner");
        let netlist = outputs::netlist(view.prepared, point);
        let file = path(args, "output").unwrap_or_default();
        write::output(session, &file, netlist.as_bytes(), args.get_flag("force"))?;
        Ok(CLEAN)
    })
}

fn run_schema(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let file = path(args, "output").unwrap_or_else(|| PathBuf::from("-"));
    write::output(session, &file, input::schema().as_bytes(), args.get_flag("force"))?;
    Ok(CLEAN)
}

fn run_completions(session: &mut Session, args: &ArgMatches) -> Result<u8, Failure> {
    let shell: Shell = match text(args, "shell").unwrap_or_default().parse() {
        Ok(shell) => shell,
        Err(message) => return Err(Failure::Problem(message)),
    };
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut crate::arguments::parser(), "loomwright", &mut script);
    session.print(&String::from_utf8_lossy(&script))?;
    Ok(CLEAN)
}

pub(crate) fn text(args: &ArgMatches, id: &str) -> Option<String> {
    args.get_one::<String>(id).cloned()
}

pub(crate) fn path(args: &ArgMatches, id: &str) -> Option<PathBuf> {
    args.get_one::<PathBuf>(id).cloned()
}

/// `--today`, if it is a day.
pub(crate) fn today(args: &ArgMatches) -> Result<Option<String>, Failure> {
    let today = text(args, "today");
    match today.as_deref().filter(|day| !is_date(day)) {
        Some(day) => Err(Failure::Problem(format!("--today {day}: write the day as YYYY-MM-DD"))),
        None => Ok(today),
    }
}

/// `2027-03-01`.
fn is_date(text: &str) -> bool {
    let bytes = text.as_bytes();
    let shape =
        bytes.len() == 10 && bytes.iter().enumerate().all(|(at, b)| if at == 4 || at == 7 { *b == b'-' } else { b.is_ascii_digit() });
    let number = |range: std::ops::Range<usize>| text.get(range).and_then(|t| t.parse::<u32>().ok()).unwrap_or(0);
    shape && (1..=12).contains(&number(5..7)) && (1..=31).contains(&number(8..10))
}
