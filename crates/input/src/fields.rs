//! The one table of fields: what may stand in the input. The reader walks it, the manual page is written from it.

use crate::quantity::{self, Quantity};

/// Where rows of a table are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Keys at the top of a TOML file.
    Root,
    /// `[kind.ID]` in a TOML file.
    Table,
    /// Rows of a CSV file.
    Csv,
}

/// One kind of row.
#[derive(Clone, Copy, Debug)]
pub struct TableSpec {
    /// Its word: `battery`, `wire`, `wire type`.
    pub key: &'static str,
    /// Where it is written.
    pub form: Form,
    /// What it is.
    pub doc: &'static str,
    /// A row as people write it.
    pub example: &'static str,
    /// Its fields in the order of the manual.
    pub fields: &'static [FieldSpec],
}

impl TableSpec {
    /// The number of a field in this table.
    pub fn position(&self, key: &str) -> Option<usize> {
        self.fields.iter().position(|f| f.key == key)
    }
}

/// What a field holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FieldKind {
    /// Free text up to 2000 characters.
    Text,
    /// An id.
    Name,
    /// One of some words.
    Words(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A whole number.
    Count,
    /// A plain number in the unit of a rule.
    Plain,
    /// One number with its unit.
    Number(Quantity),
    /// One number with its unit, or one word.
    NumberOr(Quantity, &'static str),
    /// One number with a unit of either quantity.
    Either(Quantity, Quantity),
    /// One number with its unit, or `{ low, typical, high }`.
    Spread(Quantity),
    /// Where a conductor ends: `J3.14`, `splice:SP1`.
    End,
    /// The id of a row of another kind.
    Id(&'static str),
    /// A list of ids of a kind.
    Ids(&'static str),
    /// A list of lists of ids of a kind.
    Groups(&'static str),
    /// A list of `kind:name`.
    Elements,
    /// A list of ids of plugs, caps, savers and adapters.
    Fitted,
    /// A list of pairs, of cavities or of a cavity and a contact size: `[["1", "2"]]`.
    Pairs,
    /// A date, YYYY-MM-DD.
    Date,
    /// `{ value, source, how }`.
    Limit(Quantity),
    /// A list of `{ rule, reason }`.
    LeftOut,
    /// Three lengths: a place in the vehicle's frame.
    Position,
    /// A plain number.
    Factor,
    /// Breakouts and segments in one text, with blanks between: `B3 S12`.
    Via,
    /// A list of `{ classes, source, how }`.
    Apart,
    /// What has to work: `kind:name`, `{ any = […] }`, `{ at_least = 2, of = […] }`, `{ path = [END, END] }`.
    Needs,
    /// A bus, or an element: `kind:name`.
    Watched,
}

/// Least and greatest legal value, in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Least.
    pub least: f64,
    /// Whether the least value itself is legal.
    pub least_in: bool,
    /// Greatest, legal itself.
    pub greatest: f64,
}

/// One field of a row.
#[derive(Clone, Copy, Debug)]
pub struct FieldSpec {
    /// Its key or column head.
    pub key: &'static str,
    /// What it holds.
    pub kind: FieldKind,
    /// Legal values of a number; `None` for what is no number.
    pub range: Option<Range>,
    /// What counts where it is missing, in words; empty if nothing does.
    pub default: &'static str,
    /// Whether a row without it is an error.
    pub required: bool,
    /// Whether a list that is written must hold something.
    pub filled: bool,
    /// Whether `TBD` is legal.
    pub open: bool,
    /// The row's own kind that has this field (`bridge`); empty if all have it.
    pub only: &'static str,
    /// What it means.
    pub help: &'static str,
}

/// One or more.
pub(crate) const SOME: Range = Range { least: 1.0, least_in: true, greatest: 10_000.0 };

impl FieldSpec {
    /// What its number measures.
    pub fn quantity(&self) -> Option<Quantity> {
        match self.kind {
            FieldKind::Number(q) | FieldKind::NumberOr(q, _) | FieldKind::Spread(q) | FieldKind::Limit(q) => Some(q),
            FieldKind::Position => Some(Quantity::Length),
            _ => None,
        }
    }
    /// Spellings of its units; empty for what has none.
    pub fn unit(&self) -> String {
        match self.kind {
            FieldKind::Either(a, b) => format!("{}, {}", a.unit_words(), b.unit_words()),
            _ => self.quantity().map(Quantity::unit_words).unwrap_or_default(),
        }
    }
    /// Its range in words; empty for what has none.
    pub fn range_words(&self) -> String {
        let show = |si: f64| match self.quantity() {
            Some(q) => quantity::show(si, q),
            None => format!("{si}"),
        };
        match self.range {
            Some(range) if range.least_in => format!("{} to {}", show(range.least), show(range.greatest)),
            Some(range) => format!("above {} up to {}", show(range.least), show(range.greatest)),
            None => String::new(),
        }
    }

    const fn required(mut self) -> FieldSpec {
        self.required = true;
        self.filled = true;
        self
    }
    const fn default(mut self, words: &'static str) -> FieldSpec {
        self.default = words;
        self
    }
    const fn filled(mut self) -> FieldSpec {
        self.filled = true;
        self
    }
    const fn open(mut self) -> FieldSpec {
        self.open = true;
        self
    }
    const fn only(mut self, kind: &'static str) -> FieldSpec {
        self.only = kind;
        self
    }
    const fn within(mut self, least: f64, greatest: f64) -> FieldSpec {
        self.range = Some(Range { least, least_in: true, greatest });
        self
    }
    const fn above(mut self, least: f64, greatest: f64) -> FieldSpec {
        self.range = Some(Range { least, least_in: false, greatest });
        self
    }
}

const fn field(key: &'static str, kind: FieldKind, help: &'static str) -> FieldSpec {
    FieldSpec { key, kind, range: usual_range(kind), default: "", required: false, filled: false, open: false, only: "", help }
}

/// A field of a file beside the vehicle: no table of [`tables`] has it.
pub(crate) const fn stated(key: &'static str, kind: FieldKind, help: &'static str) -> FieldSpec {
    field(key, kind, help)
}

/// The range of a number unless its field states another.
const fn usual_range(kind: FieldKind) -> Option<Range> {
    const fn from(least: f64, greatest: f64) -> Option<Range> {
        Some(Range { least, least_in: true, greatest })
    }
    const fn above_zero(greatest: f64) -> Option<Range> {
        Some(Range { least: 0.0, least_in: false, greatest })
    }
    match kind {
        FieldKind::Number(q) | FieldKind::NumberOr(q, _) | FieldKind::Spread(q) | FieldKind::Limit(q) => match q {
            Quantity::Voltage => from(0.0, 1e5),
            Quantity::Current => from(0.0, 1e5),
            Quantity::Resistance => above_zero(1e12),
            Quantity::Power => from(0.0, 1e9),
            Quantity::Length => above_zero(1e4),
            Quantity::Temperature => from(0.0, 1273.15),
            Quantity::Share => from(0.0, 1.0),
            Quantity::Duration => above_zero(100.0 * 365.25 * 86400.0),
            Quantity::Gauge => from(-3.0, 40.0),
            Quantity::Sensitivity => above_zero(1.0),
            Quantity::TemperatureCoefficient => above_zero(0.1),
            Quantity::Area => above_zero(1e-2),
            Quantity::ResistancePerLength => above_zero(1e6),
            Quantity::MassPerLength => above_zero(1e3),
            Quantity::Force => from(0.0, 1e5),
            Quantity::TemperatureRise => above_zero(1e3),
            Quantity::Mass => from(0.0, 1e6),
            Quantity::Pressure => from(0.0, 1e7),
            Quantity::Speed => from(0.0, 1e3),
            Quantity::HeatFlux => from(0.0, 1e5),
            Quantity::Conductivity => above_zero(1e3),
            Quantity::Capacitance => above_zero(1e3),
            Quantity::InductancePerLength => above_zero(1.0),
            Quantity::SpecificHeat => above_zero(1e5),
            Quantity::Charge => above_zero(1e9),
        },
        FieldKind::Position => from(-1e4, 1e4),
        FieldKind::Either(..) => above_zero(1e5),
        FieldKind::Count => from(1.0, 10_000.0),
        _ => None,
    }
}

use FieldKind::{
    Apart, Count, Date, Either, Elements, End, Factor, Fitted, Flag, Groups, Id, Ids, LeftOut, Limit, Name, Needs, Number, Pairs, Plain,
    Position, Spread, Text, Via, Watched, Words,
};
use Quantity::{
    Area, Capacitance, Charge, Conductivity, Current, Duration, Force, Gauge, HeatFlux, InductancePerLength, Length, Mass, MassPerLength,
    Power, Pressure, Resistance, ResistancePerLength, Sensitivity, Share, SpecificHeat, Speed, Temperature, TemperatureCoefficient,
    TemperatureRise, Voltage,
};

const ON_OFF: FieldKind = Words(&["on", "off"]);
const CLOSED_OPEN: FieldKind = Words(&["closed", "open"]);
const CLIMATE_FIELDS: [FieldSpec; 8] = [
    field("pressure", Number(Pressure), "absolute pressure of the gas; 0 Pa is vacuum").open(),
    field("gas_temperature", Spread(Temperature), "temperature of the gas: coldest, typical, hottest").open(),
    field("gravity", Factor, "gravity or acceleration: 1 on the ground, 0 without weight").within(0.0, 100.0).open(),
    field("air_speed", Number(Speed), "speed of the gas along the harness; of a zone with a fan, while it runs").default("0 m/s").open(),
    field("fan", Id("load"), "the load that makes this speed while it is on").default("the speed is there in every state"),
    field("walls", Spread(Temperature), "temperature of the walls that the harness sees: coldest, typical, hottest").open(),
    field("wall_distance", Number(Length), "distance from the harness to the nearest wall, for gas that stands still").open(),
    field("sun", Number(HeatFlux), "sunlight on the harness").default("0 W/m2").open(),
];
const RATING: FieldSpec =
    field("rating", Number(Temperature), "hottest that it may be for long; sets no limit where it is not stated").open();
const SOLDER: FieldSpec =
    field("solder", Number(Temperature), "hottest that its solder may be for long; stated where wires are soldered to it, and only there")
        .open();
const HOW: FieldKind = Words(&["read", "memory", "computed", "practice", "given"]);

const SOURCE_FIELDS: &[FieldSpec] = &[
    field("positive", End, "positive terminal").required(),
    field("negative", End, "negative terminal").required(),
    field("emf", Spread(Voltage), "voltage without load, over all states of charge and temperatures").above(0.0, 1e5).required().open(),
    field("ohms", Spread(Resistance), "series resistance; without one the current of a fault would have no bound").required().open(),
    field("rating", Number(Current), "greatest continuous current").above(0.0, 1e5).open(),
    field("peak", Number(Current), "greatest current in short spells").above(0.0, 1e5).open(),
    field("state", ON_OFF, "whether it is connected unless a phase says otherwise").default("on"),
];
const BATTERY_FIELDS: &[FieldSpec] = &[
    SOURCE_FIELDS[0],
    SOURCE_FIELDS[1],
    SOURCE_FIELDS[2],
    SOURCE_FIELDS[3],
    SOURCE_FIELDS[4],
    SOURCE_FIELDS[5],
    SOURCE_FIELDS[6],
    field("type", Name, "type of its cells, or of the whole, in the catalog; without one its charge is not followed").open(),
    field("cells", Count, "cells in line; of a type that is a whole battery, batteries in line").default("1").open(),
    field("strings", Count, "strings side by side").default("1").open(),
    field("charge", Spread(Share), "charge when the first phase begins, as a share of what storage and age leave")
        .default("100 %, assumed")
        .open(),
    field("stored", Number(Duration), "how long it has been charged, or filled, when the first phase begins")
        .default("nothing is lost in storage")
        .open(),
    field("stored_at", Number(Temperature), "temperature that it was stored at").open(),
    field("capacity_left", Spread(Share), "share of its rated charge that age and wear leave").above(0.0, 1.0).default("100 %").open(),
    field("resistance_share", Spread(Share), "its resistance as a share of the catalog's").above(0.0, 100.0).default("100 %").open(),
    field("temperature", Spread(Temperature), "temperature that it is kept at: coldest, typical, hottest")
        .default("the ambient of each phase")
        .open(),
    field(
        "heater",
        Id("load"),
        "the load that keeps it at `temperature`; while that is off or not fed it follows the ambient of the phase",
    )
    .default("nothing it depends on"),
    field("cools_in", Number(Duration), "time constant with which it follows the ambient then").default("it follows at once").open(),
];
const PROTECTOR_FIELDS: &[FieldSpec] = &[
    field("line", End, "supply side").required(),
    field("load", End, "load side").required(),
    field("rating", Number(Current), "rated current").above(0.0, 1e5).open(),
    field("device", Name, "its type in the catalog, which says when it opens").default("none: when it opens is not judged").open(),
    field("interrupts", Number(Current), "greatest current that it interrupts").above(0.0, 1e6).default("its type's").open(),
    field("ohms", Spread(Resistance), "resistance when closed")
        .default("its type's; else 0.5, 1 and 2 times 0.05 V over the rating; 10 mohm without rating; assumed")
        .open(),
    field("state", CLOSED_OPEN, "state unless a phase says otherwise").default("closed"),
];
const SWITCH_FIELDS: &[FieldSpec] = &[
    field("from", End, "one side").required(),
    field("to", End, "the other side").required(),
    field("ohms", Spread(Resistance), "resistance when closed").default("1, 5 and 10 mohm, assumed").open(),
    field("rating_resistive", Number(Current), "what its contact may switch of a resistive load").above(0.0, 1e5).open(),
    field("rating_inductive", Number(Current), "of coils and valves").above(0.0, 1e5).open(),
    field("rating_lamp", Number(Current), "of lamps, by their steady current").above(0.0, 1e5).open(),
    field("rating_motor", Number(Current), "of motors, by their running current").above(0.0, 1e5).open(),
    field("drive", Name, "the coil or driver that moves it: switches with one drive move together, and as inhibits fail together").default("one of its own"),
    field("one_way", Flag, "whether current is meant to flow from `from` to `to` alone: current the other way is sneak current").default("false"),
    field("leakage", Number(Current), "of a solid-state switch: what flows while it is open, at the greatest voltage of any source; it counts where sneak currents are judged")
        .above(0.0, 1e3)
        .default("none"),
    field("state", CLOSED_OPEN, "state unless a phase says otherwise").default("closed"),
];
const FITTED_FIELDS: &[FieldSpec] = &[
    field("connector", Id("connector"), "the connector half it stands on in place of that one's mate").required(),
    field("links", Pairs, "which cavities of that connector it joins").default("none"),
    field("ohms", Spread(Resistance), "resistance of each joined pair, contacts included").default("2, 10 and 30 mohm, assumed").open(),
];
const IN_LINE_FIELDS: &[FieldSpec] = &[
    FITTED_FIELDS[0],
    field("links", Pairs, "which cavities of that connector it joins with each other").default("none"),
    field(
        "ohms",
        Spread(Resistance),
        "resistance of each joined pair, contacts included; in line, of each circuit inside it, without contacts",
    )
    .default("2, 10 and 30 mohm; in line 1, 3 and 10 mohm; assumed")
    .open(),
    field("in_line", Flag, "whether it stands between the connector and its mate and passes each circuit on, over one contact more")
        .default("false"),
    field("open", Ids("cavity"), "in line: cavities of that connector whose circuits it does not pass on").default("none"),
];
/// Words of [`model::PinMeaning`], in its order.
pub(crate) const MEANINGS: &[&str] = &[
    "power-in",
    "power-out",
    "return",
    "signal",
    "signal-return",
    "shield",
    "chassis",
    "ordnance",
    "command",
    "millivolt",
    "spare",
    "no-connect",
];
/// Words of [`model::NeighbourKind`], in its order.
pub(crate) const NEIGHBOURS: &[&str] =
    &["fuel-line", "oxygen-line", "hydraulic-line", "propellant-line", "hot-surface", "moving-part", "sharp-edge", "plume", "vapour-zone"];
const TWO_TERMINALS: &str = "resistance, voltage, rtd, thermocouple, potentiometer, current-loop";
const ALLOY: FieldKind = Words(physics::sensor_temperature::ALLOY_WORDS);
const METALS: FieldKind = Words(&["copper", "aluminium"]);
const CATALOG_SOURCE: [FieldSpec; 3] = [
    field("source", Text, "document that the row comes from"),
    field("locator", Text, "its table, paragraph or page"),
    field("how", HOW, "how the values of the row are known; a `_how` of one value counts before it").default("given"),
];

static TABLES: &[TableSpec] = &[
    TableSpec {
        key: "vehicle",
        form: Form::Root,
        doc: "Keys at the top of a file, before its first table. One file of the folder, and only one, says `format = 1`.",
        example: "format = 1\nname = \"bench\"\nrevision = \"A\"\nprofile = \"space-28v\"",
        fields: &[
            field("format", Count, "number of the input format; this program reads 1").required(),
            field("name", Name, "id of the vehicle").default("unnamed"),
            field("revision", Text, "its revision"),
            field("title", Text, "free text"),
            field("profile", Name, "the limits profile that rules judge against").default("space-28v"),
            field("mass_stage", Name, "how far the design has come, by `catalog/mass-growth.csv`: what growth of the harness is still to be expected")
                .default("none: no growth is counted"),
            field("mass_allowance", Number(Share), "ties, lacing, sleeves and labels without a row, as a share of the mass of bare wires")
                .default("none is counted"),
            field("end_allowance", Number(Length), "length that a wire needs at each end beyond its route, where its own row does not say")
                .within(0.0, 100.0)
                .default("0 m, assumed"),
            field("tie_pitch", Number(Length), "farthest that two ties are apart, where a segment's own row does not say"),
            field("slack", Number(Share), "slack of a wire as a share of its route, where its own row does not say")
                .default("0 %, assumed"),
        ],
    },
    TableSpec {
        key: "section",
        form: Form::Table,
        doc: "A half of the vehicle that can part from the rest.",
        example: "[section.deck]\ntitle = \"propulsion deck\"",
        fields: &[field("title", Text, "free text")],
    },
    TableSpec {
        key: "unit",
        form: Form::Table,
        doc: "A box.",
        example: "[unit.PDU]\ntitle = \"power distribution unit\"",
        fields: &[
            field("title", Text, "free text"),
            field("section", Id("section"), "the section it stays with"),
            field("temperature", Number(Temperature), "temperature of its connectors, for the wires on them and what foreign metals add to small signals").open(),
            field("breakout", Id("breakout"), "the breakout at which the wires of its connectors leave the harness"),
        ],
    },
    TableSpec {
        key: "bus",
        form: Form::Table,
        doc: "A bus inside a unit: its bar is rigid, and the drop of a load is counted from here.",
        example: "[bus.A]\nunit = \"PDU\"\nreturn = \"node:RTN\"\nnominal = \"28 V\"",
        fields: &[
            field("unit", Id("unit"), "the unit it is in"),
            field("return", End, "where its returns come together; without it a drop is counted in the feed and return to the source")
                .open(),
            field("nominal", Number(Voltage), "its nominal voltage").default("the profile's").open(),
        ],
    },
    TableSpec {
        key: "node",
        form: Form::Table,
        doc: "A node inside a unit that joins elements.",
        example: "[node.RTN]\nunit = \"PDU\"",
        fields: &[field("unit", Id("unit"), "the unit it is in")],
    },
    TableSpec {
        key: "connector",
        form: Form::Table,
        doc: "One half of a connector. A half in a unit's wall without a `mate` gets an unnamed harness half: wires are then listed to the \
              unit's own pins.",
        example: "[connector.J1]\nunit = \"PDU\"\ncontact = \"20\"\ncavities = 9",
        fields: &[
            field("unit", Id("unit"), "the unit whose wall it sits in; none for a half on a harness"),
            field("mate", Id("connector"), "the half it mates with; either half may say it"),
            field("half", Words(&["plug", "receptacle"]), "which half it is").open(),
            field("contact", Name, "contact size of its cavities").default("the arrangement's, else 20, assumed").open(),
            field("other_contacts", Pairs, "cavities whose contact has another size, each with that size: `[[\"9\", \"16\"]]`")
                .default("none"),
            field(
                "kind",
                Words(&["crimp", "hermetic", "terminals"]),
                "crimped or hermetic contacts, or terminals on which the wire itself lands",
            )
            .default("crimp"),
            field("cavities", Count, "number of cavities, which are then named 1, 2, 3 …").open(),
            field("arrangement", Name, "insert arrangement in the catalog, which says cavities and contact sizes").open(),
            field("gender", Words(&["pins", "sockets"]), "which contacts this half has").open(),
            field("keying", Name, "keying or clocking, which tells like connectors apart").open(),
            field("near", Ids("connector"), "connectors within reach, which could be mated in this one's place"),
            field("section", Id("section"), "the section it stays with").default("its unit's"),
            field("stays", Flag, "whether this half stays with something that can be live when the halves are parted"),
            field("shell", Number(Length), "outside diameter of its shell with its coupling, as it is passed through a hole")
                .default("its arrangement's")
                .open(),
            field("terminated_in_place", Flag, "whether it is put on after the harness is in place, so that it is passed through no hole")
                .default("false"),
            field("filled", Flag, "whether unused cavities are filled, those of its unnamed harness half too"),
            field("temperature", Number(Temperature), "temperature of its contacts, for the wires on them too").default("its unit's, else its mate's").open(),
            field("breakout", Id("breakout"), "the breakout at which its wires leave the harness").default("its mate's, else its unit's"),
            field("mass", Number(Mass), "mass of this half with its backshell, without contacts; of a half in a unit's wall it counts with the unit")
                .default("its arrangement's")
                .open(),
            field("part", Text, "part number of this half, for the parts list"),
            field("backshell", Text, "part number of its backshell"),
            field("clocking", Text, "how its key and backshell are turned, as the drawing states it"),
            RATING,
            SOLDER,
        ],
    },
    TableSpec {
        key: "battery",
        form: Form::Table,
        doc: "A battery: a voltage behind a resistance, within which each phase is judged. With the type of its cells its charge is followed through the mission.",
        example: "[battery.B1]\npositive = \"B1J.1\"\nnegative = \"B1J.2\"\n\
                  emf = { low = \"26.5 V\", typical = \"28 V\", high = \"29.5 V\" }\nohms = \"50 mohm\"\n\
                  type = \"silver-zinc\"\ncells = 19\nstrings = 4",
        fields: BATTERY_FIELDS,
    },
    TableSpec {
        key: "supply",
        form: Form::Table,
        doc: "A ground supply: as a battery.",
        example: "[supply.GSE]\npositive = \"X1.1\"\nnegative = \"X1.2\"\nemf = \"28.5 V\"\nohms = \"20 mohm\"\nstate = \"off\"",
        fields: SOURCE_FIELDS,
    },
    TableSpec {
        key: "breaker",
        form: Form::Table,
        doc: "A circuit breaker.",
        example: "[breaker.CB1]\nline = \"bus:A\"\nload = \"J2.1\"\nrating = \"7.5 A\"\ndevice = \"NSN-5925-00-226-0377\"",
        fields: PROTECTOR_FIELDS,
    },
    TableSpec {
        key: "fuse",
        form: Form::Table,
        doc: "A fuse.",
        example: "[fuse.F1]\nline = \"bus:A\"\nload = \"J2.3\"\nrating = \"3 A\"",
        fields: PROTECTOR_FIELDS,
    },
    TableSpec {
        key: "limiter",
        form: Form::Table,
        doc: "A current limiter: an electronic switch that lets through no more than its limit and opens after a time at it. `rating` is its class: \
              the largest current that may flow for long. In the solved states it conducts as a breaker does and limits nothing; what it lets through \
              and for how long counts where faults are judged.",
        example: "[limiter.L1]\nline = \"bus:A\"\nload = \"J2.4\"\nrating = \"3 A\"\ninterrupts = \"100 A\"",
        fields: PROTECTOR_FIELDS,
    },
    TableSpec {
        key: "switch",
        form: Form::Table,
        doc: "A switch.",
        example: "[switch.S1]\nfrom = \"J4.1\"\nto = \"J4.2\"\nstate = \"open\"",
        fields: SWITCH_FIELDS,
    },
    TableSpec {
        key: "relay",
        form: Form::Table,
        doc: "The contact of a relay.",
        example: "[relay.K1]\nfrom = \"bus:A\"\nto = \"node:HEAT\"",
        fields: SWITCH_FIELDS,
    },
    TableSpec {
        key: "tie",
        form: Form::Table,
        doc: "A tie between two buses.",
        example: "[tie.AB]\nfrom = \"bus:A\"\nto = \"bus:B\"\nstate = \"open\"",
        fields: SWITCH_FIELDS,
    },
    TableSpec {
        key: "diode",
        form: Form::Table,
        doc: "A diode: nothing below its forward voltage, then a resistance.",
        example: "[diode.D1]\nanode = \"J5.1\"\ncathode = \"bus:A\"",
        fields: &[
            field("anode", End, "anode").required(),
            field("cathode", End, "cathode").required(),
            field("forward", Spread(Voltage), "forward voltage").default("0.7 V, assumed").open(),
            field("ohms", Spread(Resistance), "resistance above the forward voltage").default("10 mohm, assumed").open(),
        ],
    },
    TableSpec {
        key: "converter",
        form: Form::Table,
        doc: "A dc-dc converter: a constant power at its input, a voltage behind a resistance at its output.",
        example: "[converter.PS10]\nline = \"J6.1\"\nreturn = \"J6.2\"\noutput = \"J7.1\"\noutput_return = \"J7.2\"\n\
                  emf = \"10 V\"\nohms = \"20 mohm\"\nefficiency = \"80 %\"",
        fields: &[
            field("line", End, "input, positive").required(),
            field("return", End, "input, negative").required(),
            field("output", End, "output, positive").required(),
            field("output_return", End, "output, negative").required(),
            field("emf", Spread(Voltage), "output voltage without load").above(0.0, 1e5).required(),
            field("ohms", Spread(Resistance), "output resistance; without one the current of a fault would have no bound").required(),
            field("efficiency", Number(Share), "output power over input power less the quiescent power").above(0.0, 1.0).required(),
            field("quiescent", Number(Power), "input power without load").default("0 W, assumed").open(),
            field("drop_out", Number(Voltage), "input voltage below which it stops").open(),
            field("return_above", Number(Voltage), "input voltage above which it starts again").open(),
            field("state", ON_OFF, "whether it works unless a phase says otherwise").default("on"),
        ],
    },
    TableSpec {
        key: "load",
        form: Form::Table,
        doc: "What draws current. It states exactly one of `power`, `current` and `resistance`.",
        example: "[load.radio]\nline = \"J8.1\"\nreturn = \"J8.2\"\npower = \"60 W\"\ngrowth = \"10 %\"\nvolts_min = \"22 V\"\n\
                  drop_out = \"18 V\"",
        fields: &[
            field("line", End, "positive terminal").required(),
            field("return", End, "negative terminal").required(),
            field("power", Spread(Power), "constant power").open(),
            field("current", Spread(Current), "constant current").open(),
            field("resistance", Spread(Resistance), "resistance").open(),
            field("growth", Number(Share), "added to power or current in the low corner; a resistance does not grow")
                .within(0.0, 5.0)
                .open(),
            field("kind", Words(&["resistive", "inductive", "lamp", "motor"]), "what it is to the contact that switches it")
                .default("resistive, assumed"),
            field("duty", Words(&["continuous", "intermittent"]), "which drop allotment counts").default("continuous"),
            field("on_time", Number(Duration), "how long it draws in each period, of a load that pulses; wires are heated by its pulses, all else is judged at its peak")
                .default("it draws without pause")
                .open(),
            field("period", Number(Duration), "from one pulse to the next; without it wires are heated as if the pulse stayed").open(),
            field("volts_min", Number(Voltage), "least voltage at its terminals").default("the profile's").open(),
            field("volts_max", Number(Voltage), "greatest voltage at its terminals").default("the profile's").open(),
            field("drop_out", Number(Voltage), "voltage below which it lets go").open(),
            field("return_above", Number(Voltage), "voltage above which it comes back").open(),
            field("switched_by", Elements, "switches, relays, breakers that command it: with any of them open it is commanded off, and nothing is to flow through it")
                .default("none: whether it is energised while off is not judged"),
            field("off_current", Number(Current), "greatest current that leaves it off").open(),
            field("pull_in", Number(Voltage), "of a coil: voltage at which it has certainly pulled in").open(),
            field("inrush", Number(Current), "current that it draws at first when it is switched on").above(0.0, 1e6).open(),
            field("inrush_time", Number(Duration), "how long it draws that").open(),
            field("input_capacitance", Number(Capacitance), "capacitance across its input").open(),
            field("hold_up", Number(Duration), "how long it works on without its voltage").within(0.0, 86400.0).open(),
            field("volts_transient", Number(Voltage), "greatest voltage that it stands for a moment").open(),
            field("suppressor", Words(&["diode", "zener", "resistor", "none"]), "what takes up its energy when it is switched off").open(),
            field("drop_allowed", Number(Voltage), "drop allowed from the bus, feed and return together").default("the profile's").open(),
            field("bus", Id("bus"), "the bus its drop is counted from").default("the first on the way to the source"),
            field("on_at_least", Number(Duration), "least time that it stays on once it was switched on").open(),
            field("off_at_most", Number(Duration), "longest time that it may be off at a time: a plan when charge is short may then switch it on and off in turns")
                .default("it is not switched in turns")
                .open(),
            field("restart", Words(&["yes", "command", "no"]), "whether it comes on again after it was off: by itself when its voltage is back, only when it is commanded to, or not at all")
                .default("unstated: a plan when charge is short does not rely on it"),
            field("restart_above", Number(Temperature), "only where the ambient of the phase is no colder").open(),
            field("restart_volts", Number(Voltage), "only with this voltage at its terminals").open(),
            field("state", ON_OFF, "whether it is on unless a phase says otherwise").default("on"),
        ],
    },
    TableSpec {
        key: "sensor",
        form: Form::Table,
        doc: "A sensor; its `kind` says which further keys it has.",
        example: "[sensor.strain]\nkind = \"bridge\"\nreceiver = \"DAQ1\"\nreading = \"40 %\"\nexcitation_positive = \"J9.1\"\n\
                  excitation_negative = \"J9.2\"\nsignal_positive = \"J9.3\"\nsignal_negative = \"J9.4\"\narm_ohms = \"350 ohm\"\n\
                  sensitivity = \"2 mV/V\"\nexcitation = \"10 V\"\n\n\
                  [sensor.wall]\nkind = \"rtd\"\nwires = 3\nreceiver = \"DAQ2\"\npositive = \"J9.5\"\nnegative = \"J9.6\"\n\
                  sense_negative = \"J9.7\"\nice_point_ohms = \"100 ohm\"\nalpha = \"0.385 %/K\"\nzero_temperature = \"-50 degC\"\n\
                  full_temperature = \"150 degC\"\nexcitation = \"1 mA\"\n\n\
                  [sensor.tank]\nkind = \"current-loop\"\nreceiver = \"DAQ3\"\npositive = \"J9.8\"\nnegative = \"J9.9\"\n\
                  volts_min = \"12 V\"\nburden_ohms = \"250 ohm\"",
        fields: &[
            field(
                "kind",
                Words(&["bridge", "resistance", "voltage", "rtd", "thermocouple", "potentiometer", "current-loop"]),
                "what it is made of: a strain bridge, a resistance, a voltage behind a resistance, a resistance thermometer, a thermocouple, \
                 a potentiometer, a transmitter of 4 to 20 mA",
            )
            .required(),
            field("receiver", Id("receiver"), "where its signal is read"),
            field("reading", Number(Share), "what it senses, as a share of full scale; of a potentiometer, where its wiper stands")
                .within(-1.0, 1.0)
                .default("0 %"),
            field("allowance", Number(Share), "error allowed in its wiring, as a share of span").open(),
            field("excitation_positive", End, "excitation, positive").only("bridge"),
            field("excitation_negative", End, "excitation, negative").only("bridge"),
            field("signal_positive", End, "signal, positive").only("bridge"),
            field("signal_negative", End, "signal, negative").only("bridge"),
            field("arm_ohms", Number(Resistance), "one of its four arms, unstrained").only("bridge"),
            field("sensitivity", Number(Sensitivity), "signal at full scale per volt of excitation").only("bridge"),
            field("positive", End, "one terminal: where the current enters, or the positive leg").only(TWO_TERMINALS),
            field("negative", End, "the other terminal").only(TWO_TERMINALS),
            field("zero_ohms", Number(Resistance), "resistance at zero").only("resistance"),
            field("full_ohms", Number(Resistance), "resistance at full scale").only("resistance"),
            field(
                "excitation",
                FieldKind::Either(Voltage, Current),
                "the excitation that its calibration assumes: a voltage for a bridge or a potentiometer, a current for a resistance or an RTD",
            )
            .only("bridge, resistance, rtd, potentiometer"),
            field("full", Number(Voltage), "voltage at full scale").above(0.0, 1e5).only("voltage"),
            field("source_ohms", Number(Resistance), "resistance behind the voltage; of a thermocouple, of the couple itself")
                .only("voltage, thermocouple"),
            field(
                "wires",
                Count,
                "wires that it is read by: 2 (both leads count as temperature), 3 (a second equal current through the third lead cancels \
                 like leads) or 4 (sense leads without current)",
            )
            .within(2.0, 4.0)
            .only("rtd"),
            field("sense_positive", End, "with 4 wires, the lead that senses beside `positive`").only("rtd").default("none"),
            field("sense_negative", End, "with 3 or 4 wires, the lead beside `negative`").only("rtd").default("none"),
            field("ice_point_ohms", Number(Resistance), "resistance at 0 degC: 100 ohm of a Pt100").only("rtd"),
            field("alpha", Number(TemperatureCoefficient), "mean slope from 0 to 100 degC as a share of the resistance at 0 degC")
                .only("rtd")
                .default("0.385 %/K, platinum of IEC 60751, recalled"),
            field("zero_temperature", Number(Temperature), "temperature at zero").within(0.0, 2073.15).only("rtd, thermocouple"),
            field("full_temperature", Number(Temperature), "temperature at full scale").within(0.0, 2073.15).only("rtd, thermocouple"),
            field(
                "type",
                Words(physics::sensor_temperature::COUPLE_LETTERS),
                "its letter; a type B gives next to nothing near 25 degC and is entered as `voltage`",
            )
            .only("thermocouple"),
            field("cold_junction", Number(Temperature), "temperature of the cold junction").only("thermocouple"),
            field("cold_positive", End, "where its positive leg ends, and copper may begin")
                .only("thermocouple")
                .default("the receiver's positive input"),
            field("cold_negative", End, "where its negative leg ends, and copper may begin")
                .only("thermocouple")
                .default("the receiver's negative input"),
            field("wiper", End, "the wiper").only("potentiometer"),
            field("track_ohms", Number(Resistance), "the track from end to end").only("potentiometer"),
            field("volts_min", Number(Voltage), "least voltage between its terminals at which it still drives 20 mA")
                .above(0.0, 1e5)
                .only("current-loop")
                .default("none")
                .open(),
            field(
                "burden_ohms",
                Number(Resistance),
                "the burden that the receiver's calibration assumes; the real one is the receiver's `input_ohms`",
            )
            .only("current-loop"),
        ],
    },
    TableSpec {
        key: "receiver",
        form: Form::Table,
        doc: "The input that reads a sensor.",
        example: "[receiver.DAQ1]\npositive = \"J10.3\"\nnegative = \"J10.4\"\ninput_ohms = \"10 Mohm\"",
        fields: &[
            field("positive", End, "positive input").required(),
            field("negative", End, "negative input").required(),
            field("input_ohms", Number(Resistance), "resistance between the inputs").default("10 Mohm, assumed").open(),
            field("reference", End, "what its common-mode voltage is counted from").open(),
            field("common_low", Number(Voltage), "least common-mode voltage it reads right at").within(-1e5, 1e5).open(),
            field("common_high", Number(Voltage), "greatest common-mode voltage it reads right at").within(-1e5, 1e5).open(),
        ],
    },
    TableSpec {
        key: "excitation",
        form: Form::Table,
        doc: "A constant current that leaves at `positive` and comes back at `negative`.",
        example: "[excitation.I1]\npositive = \"J11.1\"\nnegative = \"J11.2\"\ncurrent = \"1 mA\"",
        fields: &[
            field("positive", End, "where it leaves").required(),
            field("negative", End, "where it comes back").required(),
            field("current", Number(Current), "how much").required(),
        ],
    },
    TableSpec {
        key: "splice",
        form: Form::Table,
        doc: "A splice; wires that end on it are joined.",
        example: "[splice.SP1]",
        fields: &[
            field("joint_ohms", Spread(Resistance), "resistance of the joint of one wire").default("1 mohm, assumed").open(),
            field("temperature", Number(Temperature), "its temperature, for its wires and what foreign metals add to small signals").open(),
            field("mass", Number(Mass), "its mass").default("unknown").open(),
            RATING,
            SOLDER,
            field("breakout", Id("breakout"), "the breakout it is at"),
        ],
    },
    TableSpec {
        key: "stud",
        form: Form::Table,
        doc: "A terminal stud.",
        example: "[stud.ST1]\njoint_ohms = \"0.5 mohm\"",
        fields: &[
            field("joint_ohms", Spread(Resistance), "resistance of the joint of one wire").default("1 mohm, assumed").open(),
            field("temperature", Number(Temperature), "its temperature, for its wires and what foreign metals add to small signals").open(),
            SOLDER,
            field("breakout", Id("breakout"), "the breakout it is at"),
        ],
    },
    TableSpec {
        key: "ground",
        form: Form::Table,
        doc: "A ground point on structure. One that no `structure` row ties to the reference gets a path of 5 mohm to it, assumed.",
        example: "[ground.G1]\nreference = true",
        fields: &[
            field("reference", Flag, "the zero of voltage").default("the first ground point"),
            field("joint_ohms", Spread(Resistance), "resistance of the joint of one wire").default("2.5 mohm, assumed").open(),
            field("breakout", Id("breakout"), "the breakout it is at"),
        ],
    },
    TableSpec {
        key: "breakout",
        form: Form::Table,
        doc: "A branch point of the harness: where segments meet and wires leave it.",
        example: "[breakout.B1]\nat = [\"1.2 m\", \"-0.3 m\", \"0 m\"]",
        fields: &[field("at", Position, "where it is: x, y, z in the frame of the vehicle")],
    },
    TableSpec {
        key: "segment",
        form: Form::Table,
        doc: "A stretch of harness between two breakouts. Where a vehicle has segments, a wire without a length takes it from its route: the \
              cheapest allowed way from the breakout of one end to that of the other.",
        example: "[segment.S1]\nfrom = \"B1\"\nto = \"B2\"\nlength = \"0.8 m\"\nbend = \"40 mm\"\ncoverings = [\"K1\"]",
        fields: &[
            field("from", Id("breakout"), "the breakout that distances along it are counted from").required(),
            field("to", Id("breakout"), "the breakout at its other end").required(),
            field("length", Number(Length), "how long it is").default("the straight line between its ends, where both have `at`; else an error"),
            field("section", Id("section"), "the section it stays with"),
            field("admits", Ids("class"), "the classes of wire that it admits, of those in the profile").filled().default("all"),
            field("weight", Factor, "cost of a metre of it to a route: more than 1 where wires are not wanted").within(1.0, 1000.0).default("1"),
            field("bend", Number(Length), "smallest bend radius along it, on the inside of the bend").open(),
            field("height", Number(Length), "height of its middle over structure").open(),
            field("tension", Number(Force), "pull along it").open(),
            field("duct", Flag, "whether it lies in a trough, duct or conduit, which holds it all along").default("false"),
            field("tie_pitch", Number(Length), "farthest that two of its ties are apart").default("that of the vehicle, else by its ties").open(),
            field("beside", Ids("segment"), "segments that run so close beside it that one blow severs both: `faults` does so"),
            field("coverings", Ids("covering"), "what covers it, from the inside out"),
            field("zone", Id("zone"), "the zone it lies in, for the temperatures of its wires"),
            field("sink", Spread(Temperature), "temperature of what it is clamped or bonded to: coldest, typical, hottest")
                .default("that of the zone's walls"),
            field("sink_conductance", Number(Conductivity), "heat that it leads there by contact, per length, clamps averaged over it")
                .within(0.0, 1e3)
                .default("0 W/m/K: clamps lead nothing away"),
            field("absorptance", Number(Share), "share of sunlight that its outside takes up").default("100 %, where the zone has sun"),
            field("reachable", Flag, "whether people can touch it").default("false"),
        ],
    },
    TableSpec {
        key: "clamp",
        form: Form::Table,
        doc: "What holds a segment or what it passes through. Of a clamp and a hole the profile limits the fill: routes that would overfill it \
              go elsewhere.",
        example: "[clamp.C1]\nsegment = \"S1\"\nkind = \"clamp\"\nat = \"0.35 m\"\nbore = \"19 mm\"",
        fields: &[
            field("segment", Id("segment"), "the segment").required(),
            field("with", Ids("segment"), "other segments that it holds too, each in an opening of its own: `faults` severs them together"),
            field("kind", Words(&["clamp", "hole", "tie"]), "a clamp on structure, a hole in it, or a tie that only holds wires together").required(),
            field("at", Number(Length), "distance from the `from` end of the segment").within(0.0, 1e4).open(),
            field("bore", Number(Length), "diameter of its opening, cushion or grommet in").only("clamp, hole").default("unstated").open(),
            field("grommet", Flag, "whether a grommet covers its edge").only("hole").default("unstated"),
            field("mass", Number(Mass), "its mass, with what it is fastened by").only("clamp, tie").default("unknown").open(),
            RATING.only("tie"),
        ],
    },
    TableSpec {
        key: "covering",
        form: Form::Table,
        doc: "A sleeve, tape or braid around the wires of segments.",
        example: "[covering.K1]\nkind = \"sleeve\"\nthickness = \"0.5 mm\"\nmass = \"12 g/m\"",
        fields: &[
            field("kind", Words(&["sleeve", "tape", "braid"]), "how it is made; tape is lapped by half").required(),
            field("thickness", Number(Length), "wall of a sleeve, thickness of a tape, diameter of a braid's strand").open(),
            field("build", Factor, "built-up thickness in diameters of a strand").within(1.0, 10.0).only("braid").default("unstated"),
            field("mass", Number(MassPerLength), "mass per length").open(),
            field("conductivity", Number(Conductivity), "thermal conductivity of its wall").open(),
            field("specific_heat", Number(SpecificHeat), "heat that a kilogram of it takes up per kelvin; with `mass` it counts where load pulses and faults are followed in time")
                .default("it takes up none: hotter in a fault, a little either way in pulses")
                .open(),
            field("emittance", FieldKind::Spread(Share), "emittance of its outside in the infrared: least, typical, greatest").above(0.0, 1.0).open(),
            RATING,
        ],
    },
    TableSpec {
        key: "zone",
        form: Form::Table,
        doc: "Surroundings of a part of the harness. A vehicle with zones has the temperature of every wire computed in the segments that name \
              one; a vehicle without zones keeps the stated ambient. What differs in some phases stands in `climate` rows.",
        example: "[zone.hold]\npressure = \"101.3 kPa\"\ngas_temperature = { low = \"18 degC\", typical = \"22 degC\", high = \"30 degC\" }\n\
                  gravity = 1\nair_speed = \"0.3 m/s\"\nfan = \"fan-1\"\nwalls = { low = \"15 degC\", typical = \"22 degC\", high = \"35 degC\" }\n\
                  wall_distance = \"40 mm\"",
        fields: &CLIMATE_FIELDS,
    },
    TableSpec {
        key: "climate",
        form: Form::Table,
        doc: "How a zone differs in some phases: what is written here counts there in place of what the zone states.",
        example: "[climate.hold-in-orbit]\nzone = \"hold\"\nphases = [\"coast\", \"dock\"]\ngravity = 0",
        fields: &[
            field("zone", Id("zone"), "the zone").required(),
            field("phases", Ids("phase"), "the phases").required(),
            CLIMATE_FIELDS[0],
            CLIMATE_FIELDS[1],
            CLIMATE_FIELDS[2],
            CLIMATE_FIELDS[3],
            CLIMATE_FIELDS[4],
            CLIMATE_FIELDS[5],
            CLIMATE_FIELDS[6],
            CLIMATE_FIELDS[7],
        ],
    },
    TableSpec {
        key: "near",
        form: Form::Table,
        doc: "Something that is no wire and lies near a segment.",
        example: "[near.N1]\nsegment = \"S1\"\nkind = \"fuel-line\"\ndistance = \"160 mm\"",
        fields: &[
            field("segment", Id("segment"), "the segment").required(),
            field("kind", Words(NEIGHBOURS), "what it is").required(),
            field("distance", Number(Length), "least distance from the outside of the harness").within(0.0, 1e4).open(),
        ],
    },
    TableSpec {
        key: "strap",
        form: Form::Table,
        doc: "A bond strap, with both joints.",
        example: "[strap.BS1]\nfrom = \"case:PDU\"\nto = \"ground:G1\"",
        fields: &[
            field("from", End, "one end").required(),
            field("to", End, "the other end").required(),
            field("ohms", Spread(Resistance), "resistance").default("2.5 mohm, assumed").open(),
        ],
    },
    TableSpec {
        key: "structure",
        form: Form::Table,
        doc: "A path through structure between two ground points.",
        example: "[structure.G1G2]\nfrom = \"ground:G1\"\nto = \"ground:G2\"",
        fields: &[
            field("from", End, "one end").required(),
            field("to", End, "the other end").required(),
            field("ohms", Spread(Resistance), "resistance").default("5 mohm, assumed (FAA AC 43.13-1B accepts 0.005 ohm)").open(),
        ],
    },
    TableSpec {
        key: "link",
        form: Form::Table,
        doc: "A conductor inside a unit: a printed track, a jumper of a bus bar.",
        example: "[link.L1]\nfrom = \"J1.1\"\nto = \"bus:A\"\nohms = \"2 mohm\"",
        fields: &[
            field("from", End, "one end").required(),
            field("to", End, "the other end").required(),
            field("ohms", Spread(Resistance), "resistance").default("1 mohm, assumed").open(),
        ],
    },
    TableSpec {
        key: "cable",
        form: Form::Table,
        doc: "Several wires under one jacket or twist. One that only the wire list names needs no row.",
        example: "[cable.C1]\nkind = \"twisted-shielded\"",
        fields: &[
            field("kind", Words(&["twisted", "shielded", "twisted-shielded", "coaxial"]), "how it is made").open(),
            field("od", Number(Length), "outside diameter with its jacket")
                .default("of a twisted one the circle around its cores, else unstated")
                .open(),
            field("shield_end_od", Number(Length), "outside diameter over the termination of its shield, with its sleeve and ground lead")
                .open(),
            field("shield_ends", Pairs, "where its shield goes at each connector half: `[[\"P1\", \"shell\"], [\"P2\", \"cut\"]]`; `shell`, `cut` (back, and insulated) or a cavity of that half")
                .default("not given"),
            field("mass", Number(MassPerLength), "mass per length with its jacket and shield")
                .default("of a twisted one the sum of its cores, else unstated")
                .open(),
            field("lay", Number(Length), "length of one turn of its twist")
                .default("of a twisted one 12 times the diameter of its thickest core, assumed"),
            RATING,
        ],
    },
    TableSpec {
        key: "circuit",
        form: Form::Table,
        doc: "Wires that serve one purpose. One that only the wire list names needs no row.",
        example: "[circuit.heat]\ntitle = \"heater, aft\"\nclass = \"power\"\nnot_with = [\"heat-b\"]",
        fields: &[
            field("title", Text, "free text"),
            field("class", Id("class"), "class of its wires, of those in the profile"),
            field("not_with", Ids("circuit"), "circuits whose wires must not lie in one segment with its own"),
        ],
    },
    TableSpec {
        key: "phase",
        form: Form::Table,
        doc: "A mission phase; phases are in mission order as written. Without any, one phase `steady` is implied.",
        example: "[phase.work]\nduration = \"2 h\"\nambient = \"20 degC\"\non = [\"load:heater\"]\nopen = [\"switch:S1\"]",
        fields: &[
            field("starts", Number(Duration), "mission time at which it begins, to be held against the durations before it").within(0.0, 100.0 * 365.25 * 86400.0),
            field("duration", Number(Duration), "how long it lasts").open(),
            field("ambient", Spread(Temperature), "temperature of the conductors: coldest, typical, hottest")
                .default("20 degC, assumed")
                .open(),
            field("altitude", Number(Length), "greatest pressure altitude that its wires are at, for their currents in air; of a sealed cabin the cabin's")
                .within(-500.0, 1e5)
                .open(),
            field("open", Elements, "switches, relays, ties, breakers and fuses that are open"),
            field("closed", Elements, "those that are closed"),
            field("on", Elements, "loads, batteries, supplies and converters that are on"),
            field("off", Elements, "those that are off"),
            field("fitted", Fitted, "plugs, caps, savers and adapters that stand on connectors in place of their mates"),
            field("together", Groups("load"), "groups of loads that pulse: those of one group may draw at once, those of two groups never do")
                .default("all may draw at once"),
        ],
    },
    TableSpec {
        key: "programme",
        form: Form::Table,
        doc: "What is commanded while a phase runs. Charge and energy follow it; other rules judge the phase as it begins.",
        example: "[programme.later]\nphase = \"work\"\nafter = \"30 min\"\noff = [\"load:heater\"]",
        fields: &[
            field("phase", Id("phase"), "the phase").required(),
            field("after", Number(Duration), "time after its beginning").required(),
            field("open", Elements, "switches, relays, ties, breakers and fuses that open"),
            field("closed", Elements, "those that close"),
            field("on", Elements, "loads, batteries, supplies and converters that come on"),
            field("off", Elements, "those that go off"),
        ],
    },
    TableSpec {
        key: "assembly",
        form: Form::Table,
        doc: "A harness assembly that is built and installed by itself: what hangs together with the connectors that it names. Wires hang together on halves, splices and in cables; what \
              no row names has a board of its own for each set that hangs together.",
        example: "[assembly.W1]\npart = \"7010-001\"\nconnectors = [\"P1\", \"P2\"]",
        fields: &[
            field("title", Text, "free text"),
            field("part", Text, "its part number"),
            field("connectors", Ids("connector"), "harness halves: what hangs together with any of them is of this assembly").required(),
        ],
    },
    TableSpec {
        key: "separation",
        form: Form::Table,
        doc: "An event in which connectors part: sections of the vehicle, or an umbilical. Its steps are rows of their own; `separate` follows it through \
              every state in between.",
        example: "[separation.plane]\nphase = \"parting\"\nstructure = [\"JOINT\"]\nloops = [\"W71\", \"W72\"]\nsignal_current = \"10 mA\"\nreference_shift = \"1 V\"",
        fields: &[
            field("title", Text, "free text"),
            field("phase", Id("phase"), "the phase it happens in: what no step names stands as it does there").required(),
            field("structure", Ids("structure"), "structure paths through the plane; they may part before, between or after the contacts").default("none"),
            field("loops", Ids("wire"), "wires that tell of the parting by being cut").default("none"),
            field("signal_current", Number(Current), "greatest current in a contact of a signal, a signal return or a shield whose wires declare none").open(),
            field("reference_shift", Number(Voltage), "greatest voltage of a load's return against the ground of its half").open(),
        ],
    },
    TableSpec {
        key: "step",
        form: Form::Table,
        doc: "What happens in a separation: elements are commanded, connectors part, or a blade passes. One of these to a step.",
        example: "[step.dead-face]\nseparation = \"plane\"\ntime = { low = \"1.9 s\", typical = \"2 s\", high = \"2.3 s\" }\nopen = [\"relay:KF\"]\nby = \"controller\"",
        fields: &[
            field("title", Text, "free text"),
            field("separation", Id("separation"), "the event").required(),
            field("time", Spread(Duration), "when it happens: earliest, typical, latest; counted from any instant, the same for all steps of the event")
                .within(0.0, 1e7)
                .required(),
            field("open", Elements, "switches, relays, ties, breakers and fuses that open; before the step they are closed"),
            field("closed", Elements, "those that close; before the step they are open"),
            field("on", Elements, "loads, batteries, supplies and converters that come on; before the step they are off"),
            field("off", Elements, "those that go off; before the step they are on"),
            field("connectors", Ids("connector"), "connectors that part, each by one of its halves"),
            field("first", Pairs, "contacts that part before the others of their connector, as pairs of connector and cavity: `[[\"X1\", \"3\"]]`"),
            field("last", Pairs, "contacts that part after the others of their connector"),
            field("cuts", Ids("segment"), "segments of the harness that a blade cuts: while it passes it bridges their wires to each other and to structure"),
            field("by", Id("load"), "the load whose unit commands it: it has to be fed then"),
        ],
    },
    TableSpec {
        key: "input",
        form: Form::Table,
        doc: "An input of a unit that commands something: what it commands while it is on, and what the unit takes it for while nothing drives it. It counts where \
              the wire of a command parts.",
        example: "[input.FIRE-A]\npin = \"J5.3\"\nopen_reads = \"off\"\nclosed = [\"switch:SF1\"]",
        fields: &[
            field("title", Text, "free text"),
            field("pin", End, "the pin, `J5.3`").required(),
            field("open_reads", Words(&["off", "on", "either"]), "what the unit takes it for while nothing drives it, by its sheet; `either` where that leaves it open"),
            field("open", Elements, "switches, relays, ties, breakers and fuses that it opens while it is on; they are closed while it is off"),
            field("closed", Elements, "those that it closes; they are open while it is off"),
            field("on", Elements, "loads, batteries, supplies and converters that it brings on"),
            field("off", Elements, "those that it takes off"),
        ],
    },
    TableSpec {
        key: "sheet",
        form: Form::Table,
        doc: "The interface control sheet of a unit. What its pins mean stands in `pins.csv`.",
        example: "[sheet.ICS-PDU]\nunit = \"PDU\"\nrevision = \"C\"\ndate = \"2026-03-02\"\nstatus = \"released\"",
        fields: &[
            field("unit", Id("unit"), "the unit it describes").required(),
            field("revision", Name, "its revision: A, B … or 1, 2 …"),
            field("date", Date, "its date"),
            field("status", Words(&["draft", "released"]), "how far it may be built to"),
        ],
    },
    TableSpec {
        key: "flight-plug",
        form: Form::Table,
        doc: "Closes circuits for flight. It stands on a connector in the phases that list it under `fitted`. While it does, the contacts \
              to that connector's mate are open and its own links conduct. Ids of plugs, caps, savers and adapters are unique among all of \
              them.",
        example: "[flight-plug.FP1]\nconnector = \"J12\"\nlinks = [[\"1\", \"2\"], [\"3\", \"4\"]]\nohms = \"5 mohm\"",
        fields: FITTED_FIELDS,
    },
    TableSpec {
        key: "safe-plug",
        form: Form::Table,
        doc: "Keeps circuits open, or shorted, on the ground; otherwise as a flight plug.",
        example: "[safe-plug.SF1]\nconnector = \"J12\"\nlinks = [[\"2\", \"4\"]]",
        fields: FITTED_FIELDS,
    },
    TableSpec {
        key: "shorting-plug",
        form: Form::Table,
        doc: "Shorts the pins of an ordnance circuit; otherwise as a flight plug.",
        example: "[shorting-plug.SH1]\nconnector = \"P30\"\nlinks = [[\"1\", \"2\"]]",
        fields: FITTED_FIELDS,
    },
    TableSpec {
        key: "cap",
        form: Form::Table,
        doc: "Covers the contacts: nothing conducts to the mate while it is fitted.",
        example: "[cap.C1]\nconnector = \"J12\"",
        fields: FITTED_FIELDS,
    },
    TableSpec {
        key: "saver",
        form: Form::Table,
        doc: "Takes the wear of mating. In line (`in_line = true`) it stands between the connector and its mate: from half to half a circuit \
              then goes over two contacts of the connector's size and the saver's own resistance. Otherwise it stands there without the mate.",
        example: "[saver.SV1]\nconnector = \"J12\"\nin_line = true\nohms = \"3 mohm\"",
        fields: IN_LINE_FIELDS,
    },
    TableSpec {
        key: "test-adapter",
        form: Form::Table,
        doc: "Brings pins out to test equipment: in line as a saver, with circuits opened at its jacks; otherwise as a flight plug.",
        example: "[test-adapter.TA1]\nconnector = \"J12\"\nin_line = true\nopen = [\"3\", \"4\"]\nohms = \"20 mohm\"",
        fields: IN_LINE_FIELDS,
    },
    TableSpec {
        key: "function",
        form: Form::Table,
        doc: "What the vehicle is for: a function and what must work for it.",
        example: "[function.talk]\ntitle = \"voice link\"\nneeds = [\"load:panel\", { any = [\"load:radio-1\", \"load:radio-2\"] }]\ntier = 1\nsurvives = 1",
        fields: &[
            field("title", Text, "free text"),
            field(
                "needs",
                Needs,
                "the loads and sensors that must work for it, all of them; `{ any = […] }` is content with one, `{ at_least = 2, of = […] }` with so many, \
                 and a list within them stands for all of it. `{ path = [\"J1.3\", \"J7.5\"] }` is a way for a signal between two ends",
            )
            .required(),
            field("tier", Count, "how late it is given up: a lower tier is kept longer"),
            field("must_keep", Flag, "whether what it needs and is on has to stay fed to the end of the mission").default("false"),
            field("worth", Count, "how much an hour of it counts among functions of its tier, when charge is short").default("1"),
            field("survives", Count, "how many faults at a time it has to survive; `faults` does not judge one that does not say; two are judged by `faults --pairs`").within(0.0, 2.0),
            field("phases", Ids("phase"), "phases in which it is wanted").default("every phase in which it works without a fault"),
        ],
    },
    TableSpec {
        key: "action",
        form: Form::Table,
        doc: "What an operator or a controller may do when something has failed; `faults` tries one at a time, those of a controller first.",
        example: "[action.tie-buses]\ntitle = \"join the buses\"\nclosed = [\"tie:KT\"]\nwho = \"operator\"\ndelay = \"2 min\"",
        fields: &[
            field("title", Text, "free text"),
            field("open", Elements, "switches, relays, ties, breakers, fuses, limiters that it opens"),
            field("closed", Elements, "those that it closes"),
            field("on", Elements, "loads, batteries, supplies, converters that it switches on"),
            field("off", Elements, "those that it switches off"),
            field("who", Words(&["automatic", "operator"]), "who does it").required(),
            field("delay", Number(Duration), "how long after the fault it has been done").within(0.0, 1e7),
            field("phases", Ids("phase"), "phases in which it may be done").default("every phase"),
        ],
    },
    TableSpec {
        key: "monitor",
        form: Form::Table,
        doc: "What tells that something has failed.",
        example: "[monitor.bus-a]\nwatches = \"bus:A\"\nwhat = \"voltage\"\nthreshold = \"1 V\"",
        fields: &[
            field("title", Text, "free text"),
            field("watches", Watched, "bus, load, sensor or device that it watches").required(),
            field(
                "what",
                Words(&["voltage", "current", "reading", "state"]),
                "voltage of a bus, load, battery or supply; current in a device; reading of a sensor at its receiver; state: whether a device conducts or a \
                 load works",
            )
            .required(),
            field(
                "threshold",
                Either(Voltage, Current),
                "how far it has to move from what it is without a fault; a state needs none. Without it the monitor says nothing",
            )
            .above(0.0, 1e6),
            field("read_by", Id("load"), "the load that reads it: unfed, it says nothing"),
            field("ground", Flag, "whether it is a test on the ground, and no reading in flight").default("false"),
            field("phases", Ids("phase"), "phases in which it is sampled").default("every phase"),
        ],
    },
    TableSpec {
        key: "initiator",
        form: Form::Table,
        doc: "An electric initiator: what its own sheet states of the bridge wire that a load row stands for, and what must stand between it and \
              every source while it is not commanded.",
        example: "[initiator.nut]\nload = \"bridge\"\nhazard = \"separation\"\ninhibits = 3\nall_fire = \"3.5 A\"\nall_fire_time = \"10 ms\"\nno_fire = \"1 A\"",
        fields: &[
            field("load", Id("load"), "the load that is its bridge wire").required(),
            field("hazard", Text, "what happens when it fires"),
            field("inhibits", Count, "number of inhibits required while it is not commanded").within(0.0, 9.0),
            field("all_fire", Number(Current), "least current that fires it").open(),
            field("all_fire_time", Number(Duration), "time for which that current has to flow").within(0.0, 3600.0).open(),
            field("no_fire", Number(Current), "greatest current that does not fire it").open(),
        ],
    },
    TableSpec {
        key: "disposition",
        form: Form::Table,
        doc: "A finding that the programme has accepted. Its id is the finding's, in quotes.",
        example: "[disposition.\"VD-01/load:heater\"]\naction = \"accept\"\nreason = \"short run on the bench\"\nauthority = \"wiring board\"\n\
                  date = \"2026-03-02\"\nphases = [\"work\"]\nworst = 1.2",
        fields: &[
            field("action", Words(&["accept", "fix-by", "not-applicable"]), "what was decided").required(),
            field("reason", Text, "why").required(),
            field("authority", Text, "who decided").required(),
            field("date", Date, "when").required(),
            field("phases", Ids("phase"), "the phases it covers").default("all that fail"),
            field("worst", Plain, "worst value accepted, a plain number in the rule's unit"),
            field("expiry", Date, "last day it holds; `fix-by` needs one"),
        ],
    },
    TableSpec {
        key: "profile",
        form: Form::Table,
        doc: "A limits profile: the numbers of the rules, each with its source. A profile of a shipped name takes the shipped one's place. \
              Write it in a file of its own, since `profile = \"…\"` at the top of a file takes the same word.",
        example: "[profile.mine]\nnominal = { value = \"28 V\", source = \"system specification 3.2\", how = \"read\" }\n\
                  drop_continuous = { value = \"0.8 V\", source = \"system specification 3.4\", how = \"read\" }\n\
                  drop_intermittent = { value = \"1.6 V\", source = \"system specification 3.4\", how = \"read\" }\n\
                  volts_min = { value = \"23 V\", source = \"system specification 3.5\", how = \"read\" }\n\
                  volts_max = { value = \"32 V\", source = \"system specification 3.5\", how = \"read\" }",
        fields: &[
            field("title", Text, "free text"),
            field("nominal", Limit(Voltage), "system voltage where no bus states one").above(0.0, 1e5).required(),
            field("drop_continuous", Limit(Voltage), "drop allowed between bus and load, continuous duty").required(),
            field("drop_intermittent", Limit(Voltage), "drop allowed between bus and load, intermittent duty").required(),
            field("volts_min", Limit(Voltage), "least voltage at a load whose sheet states none").required(),
            field("volts_max", Limit(Voltage), "greatest voltage at a load whose sheet states none").required(),
            field("contact_derating", Limit(Share), "share of a contact's test current that may be used").above(0.0, 1.0),
            field("bus_min", Limit(Voltage), "least steady voltage of a bus"),
            field("bus_max", Limit(Voltage), "greatest steady voltage of a bus"),
            field(
                "wire_current_difference",
                Limit(Share),
                "difference between a wire's declared and computed current, as a share of the declared one, that is no finding",
            ),
            field("fill", Limit(Share), "share of the area of a hole or clamp that wires may take").above(0.0, 1.0),
            field("bends", Name, "the practice of the catalog's bend radii that counts").default("none"),
            field("hole_clearance", Limit(Length), "least clearance around a bundle in a hole without a grommet"),
            field("ties_beyond", Limit(Length), "distance between clamps up to which a bundle needs no ties"),
            field("clearance_fuel_line", Limit(Length), "least distance to a line of fuel"),
            field("clearance_oxygen_line", Limit(Length), "least distance to a line of oxygen"),
            field("clearance_hydraulic_line", Limit(Length), "least distance to a line of hydraulic fluid"),
            field("clearance_propellant_line", Limit(Length), "least distance to a line of propellant"),
            field("clearance_hot_surface", Limit(Length), "least distance to a hot surface"),
            field("clearance_moving_part", Limit(Length), "least distance to a part that moves"),
            field("clearance_sharp_edge", Limit(Length), "least distance to a sharp edge"),
            field("clearance_plume", Limit(Length), "least distance to the plume of an engine"),
            field("clearance_vapour_zone", Limit(Length), "least distance to a zone where flammable vapour may stand"),
            field("classes", Ids("class"), "classes of wire: ids that circuits and segments may then use").default("none"),
            field("apart", Apart, "pairs of classes that must not lie in one segment, each with its source").default("none"),
            field(
                "ampacity",
                Name,
                "tables of wire current: `aircraft` (single wires in free air, with factors for bundle and altitude), or a rule set of the vacuum \
                 currents: `nasa`, `ecss`, one of the folder's own",
            ),
            field("protector_chart", Name, "chart of the largest breaker and fuse by gauge of the wire: `ac-43-13`, or one of the folder's own")
                .default("none: the rule does not apply"),
            field("bundle_heat_margin", Limit(TemperatureRise), "added to the computed temperature of a wire that lies with others before it is judged"),
            field("contact_conductance_low", Limit(Conductivity), "least heat conductance between two jackets that touch, per length"),
            field("contact_conductance", Limit(Conductivity), "typical heat conductance between two jackets that touch"),
            field("contact_conductance_high", Limit(Conductivity), "greatest heat conductance between two jackets that touch"),
            field("touch_limit", Limit(Temperature), "hottest surface that people may touch"),
            field("clears_within", Limit(Duration), "time within which the smallest fault current has to open a device"),
            field("breaker_share", Limit(Share), "share of a breaker's rating that may flow for long").above(0.0, 1.0),
            field("fuse_share", Limit(Share), "share of a fuse's rating that may flow for long").above(0.0, 1.0),
            field("limiter_share", Limit(Share), "share of a limiter's class that may flow for long").above(0.0, 1.0),
            field("arc_voltage_low", Limit(Voltage), "least voltage across an arc in series with a fault").default("`arc_voltage`"),
            field("arc_voltage", Limit(Voltage), "typical voltage across an arc in series with a fault"),
            field("arc_voltage_high", Limit(Voltage), "greatest voltage across an arc in series with a fault").default("`arc_voltage`"),
            field("inductance_per_metre", Limit(InductancePerLength), "inductance of a loop of feed and return by the length of the feed"),
            field("damage_share", Limit(Share), "share of the time to damage of a wire that the longest trip time may take").above(0.0, 1.0),
            field("essential_tier", Count, "functions of this tier and those of a smaller number are essential: their protectors feed nothing else")
                .default("none: no function is essential"),
            field("energy_reserve", Limit(Share), "share of a battery's usable charge that has to be left at the end of each phase").within(0.0, 1.0),
            field("charge_uncertainty", Limit(Share), "uncertainty of a battery's charge, as a share of its rated charge; counts as gone").within(0.0, 1.0),
            field("firing_margin", Limit(Share), "least firing current over the all-fire current of an initiator; from the programme: no shipped profile states it")
                .above(0.0, 10.0),
            field("stray_current", Limit(Current), "greatest current through an initiator that is not meant to fire; `stray_share` of its no-fire current, if that is less"),
            field("stray_share", Limit(Share), "greatest share of its no-fire current in an initiator that is not meant to fire").above(0.0, 1.0),
            field("left_out", LeftOut, "rules that are not required, each as { rule = \"VL-01\", reason = \"…\" }"),
        ],
    },
    TableSpec {
        key: "wire",
        form: Form::Csv,
        doc: "The wire list: `wires.csv`, or several files `wires-….csv`.",
        example: "wire,from,to,type,gauge_awg,length_m,current_a\nW1,J1.1,J2.1,M22759/44,20,3.2,4.5\nW2,J1.2,splice:SP1,,22,,",
        fields: &[
            field("wire", Name, "id of the wire").default("W1, W2 … by row"),
            field("from", End, "one end").required(),
            field("to", End, "the other end").required(),
            field("type", Name, "type designation in the catalog").default("copper-tin: tin-coated copper strands, assumed").open(),
            field("gauge", Number(Gauge), "gauge").required().open(),
            field("length", FieldKind::NumberOr(Length, "route"), "length from end to end; `route` takes it from the route")
                .default("`route`, where the vehicle has segments")
                .open(),
            field("current", Number(Current), "current, for a wire whose load is not modelled").open(),
            field("circuit", Name, "the circuit it serves"),
            field("cable", Name, "the cable it is a core of"),
            field("cable_position", Count, "position in the cable, from 1"),
            field("group", Name, "wires of one group run in parallel between the same ends"),
            field("via", Via, "breakouts and segments that it must pass, in this order, with blanks between: `B3 S12`, or `segment:S12`; it is laid there by the \
                 shortest way, whatever else lies there, and rules judge it"),
            field("from_allowance", Number(Length), "length that its `from` end needs beyond the route")
                .within(0.0, 100.0)
                .default("`end_allowance` of the vehicle"),
            field("to_allowance", Number(Length), "length that its `to` end needs beyond the route")
                .within(0.0, 100.0)
                .default("`end_allowance` of the vehicle"),
            field("slack", Number(Share), "slack, as a share of its route").default("`slack` of the vehicle"),
            field(
                "bundle_wires",
                Count,
                "wires of the thickest bundle that it runs in, itself included, where no segment says; 1 for a wire that runs alone",
            ),
            field("bundle_loaded", Number(Share), "share of those wires that is loaded at the same time").above(0.0, 1.0),
            field("signal", Text, "signal name"),
            field("marking", Text, "what is marked on it").default("its id"),
            field("colour", Text, "colour of its insulation"),
            field("from_revision", Name, "revision of the interface sheet that the `from` end was drawn to"),
            field("to_revision", Name, "revision of the interface sheet that the `to` end was drawn to"),
            field("notes", Text, "free text; columns whose head begins with `note_` are kept with it"),
        ],
    },
    TableSpec {
        key: "pin",
        form: Form::Csv,
        doc: "What the pins of units mean, by their interface control sheets: `pins.csv`, or several files `pins-….csv`. A row names its pin \
              in one column, or by connector and cavity in two.",
        example: "pin,meaning,signal,own_return,sheet,changed\nJ1.1,power-in,28V-A,J1.2,ICS-PDU,B\nJ1.2,return,28V-A-RTN,,ICS-PDU,A",
        fields: &[
            field("pin", End, "the pin, `J1.1`"),
            field("connector", Id("connector"), "its connector, in place of `pin`"),
            field("cavity", Name, "its cavity, beside `connector`"),
            field("meaning", Words(MEANINGS), "what it is for").required(),
            field("signal", Name, "name of the signal on it"),
            field("own_return", End, "the pin that its current comes back on"),
            field("sheet", Id("sheet"), "the interface sheet that the row is of").default("the only one of its unit"),
            field("changed", Name, "revision of the sheet in which the row last changed"),
            field("grounded", Flag, "an unused cavity whose contact is tied to ground").default("false"),
            field("notes", Text, "free text"),
        ],
    },
    TableSpec {
        key: "wire type",
        form: Form::Csv,
        doc: "Wire types: `catalog/wires.csv` in the folder adds rows to the shipped ones; the same type and gauge takes the shipped row's place.",
        example: "type,gauge_awg,area_mm2,max_ohm_per_km,od_mm,rating_degC\nmy-wire,20,0.62,32.4,1.3,200",
        fields: &[
            field("type", Name, "type designation").required(),
            field("construction", Text, "strands and coating: `19x34 tin-coated copper`; the limit of the coating follows it"),
            field(
                "family",
                Words(&["polyimide-tape", "etfe-x", "etfe", "ptfe", "ptfe-polyimide", "bare"]),
                "insulation: polyimide tape, crosslinked or extruded ETFE, PTFE, PTFE over polyimide, none",
            ),
            field("hard", Flag, "whether its insulation is hard enough to cut into a soft one beside it").default("false"),
            field("gauge", Number(Gauge), "gauge").required(),
            field("area", Number(Area), "cross-section of the metal").required(),
            field("area_how", HOW, "how it is known").default("`how`"),
            field("area_source", Text, "where it comes from").default("`source`"),
            field("conductivity", Number(Share), "conductivity, as a share of 100 % IACS").within(0.01, 1.1).default("100 %"),
            field("conductivity_how", HOW, "how it is known").default("`how`"),
            field("conductivity_source", Text, "where it comes from").default("`source`"),
            field("max", Number(ResistancePerLength), "greatest resistance at 20 degC that the specification allows").required(),
            field("max_how", HOW, "how it is known").default("`how`"),
            field("nominal", Number(ResistancePerLength), "nominal resistance at 20 degC")
                .default("from area and conductivity with 2 % lay"),
            field("nominal_how", HOW, "how it is known").default("`how`"),
            field("od", Number(Length), "finished outside diameter"),
            field("od_how", HOW, "how it is known").default("`how`"),
            field("rating", Number(Temperature), "rated conductor temperature"),
            field("rating_how", HOW, "how it is known").default("`how`"),
            field("volts", Number(Voltage), "rated voltage"),
            field("volts_how", HOW, "how it is known").default("`how`"),
            field("mass", Number(MassPerLength), "mass per length"),
            field("mass_how", HOW, "how it is known").default("`how`"),
            field("alloy", ALLOY, "metal of the conductor, for thermocouples: a letter and P or N is the positive or negative alloy of that type")
                .default("copper"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text"),
        ],
    },
    TableSpec {
        key: "contact size",
        form: Form::Csv,
        doc: "Contact sizes: `catalog/contacts.csv` in the folder adds rows to the shipped ones; the same size and kind takes the shipped row's \
              place, and the shipped currents by gauge no longer count for it. The limit of resistance is the greatest drop over the test \
              current; typical is half of it and best a tenth of typical, both assumed.",
        example: "size,kind,gauge_min_awg,gauge_max_awg,current_a,drop_mv\n20,crimp,24,20,7.5,55",
        fields: &[
            field("size", Name, "size").required(),
            field("kind", Words(&["crimp", "hermetic"]), "crimp or hermetic").required(),
            field("gauge_min", Number(Gauge), "thinnest wire that fits").required(),
            field("gauge_max", Number(Gauge), "thickest wire that fits").required(),
            field("current", Number(Current), "test current").above(0.0, 1e5).required(),
            field("drop", Number(Voltage), "greatest drop at the test current, crimps included").above(0.0, 1e3).default("50 mV, assumed"),
            field("alloy", ALLOY, "metal of the contact; kovar stands for Alloy 42 too")
                .default("copper for crimp contacts, unknown for hermetic ones"),
            field("mass", Number(Mass), "mass of one contact, pin or socket").default("unknown"),
            field("pin_part", Text, "part number of the pin contact, for pin tables and parts list"),
            field("socket_part", Text, "part number of the socket contact"),
            field("mass_how", HOW, "how it is known").default("`how`"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "contact current",
        form: Form::Csv,
        doc: "Test current of a contact by the gauge of the wire in it: `catalog/contact-currents.csv` in the folder. Rows of the folder for a \
              size and kind take the place of all shipped rows for that size and kind. A wire thinner than all rows takes the thinnest row; a \
              size without rows has its own test current with every wire.",
        example: "size,kind,gauge_awg,current_a\n20,crimp,20,7.5\n20,crimp,22,5",
        fields: &[
            field("size", Name, "size").required(),
            field("kind", Words(&["crimp", "hermetic"]), "crimp or hermetic").required(),
            field("gauge", Number(Gauge), "gauge of the wire").required(),
            field("current", Number(Current), "test current with that wire").above(0.0, 1e5).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "arrangement",
        form: Form::Csv,
        doc: "Insert arrangements: `catalog/arrangements.csv` in the folder adds to the shipped ones; rows of an arrangement take the place of \
              the shipped ones of that name. A row is one cavity, or with `cavities` so many of them, numbered on from those before. Where such \
              rows of one arrangement give several sizes, how many cavities have each size is known, and not which. With `pitch` they stand in a row: \
              `my-9,5,20,-4,1.5,2` and `my-9,4,20,-3,-1.5,2` under `arrangement,cavities,size,x_mm,y_mm,pitch_mm` are five above four.",
        example: "arrangement,cavity,size,x_mm,y_mm\nmy-3,A,20,-2,0\nmy-3,B,20,2,0\nmy-3,C,16,0,3",
        fields: &[
            field("arrangement", Name, "its designation").required(),
            field("cavity", Name, "name of the cavity"),
            field("cavities", Count, "number of cavities, in place of `cavity`; they are named 1, 2, 3 …"),
            field("size", Name, "contact size").required(),
            field("x", Number(Length), "position on the mating face of the pin half").within(-1.0, 1.0),
            field("y", Number(Length), "position on the mating face of the pin half").within(-1.0, 1.0),
            field("pitch", Number(Length), "of `cavities` in a row: how far each is from the one before it, along x; `x` and `y` are those of the first").above(0.0, 0.1),
            field("shell", Number(Length), "outside diameter of its shell with its coupling; one row of the arrangement is enough"),
            field("mass", Number(Mass), "mass of a half with its backshell, without contacts; one row of the arrangement is enough"),
            field("withstand", Number(Voltage), "direct voltage that it withstands in a test; one row of the arrangement is enough").above(0.0, 1e5),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "bend radius",
        form: Form::Csv,
        doc: "Bend radii: `catalog/bend-radii.csv` in the folder adds to the shipped ones; a row takes the place of that of its practice and \
              insulation. The profile's `bends` names the practice that counts; of all wires and cables in a segment the one that asks for \
              the largest radius decides.",
        example: "practice,insulation,of,minimum_diameters,preferred_diameters\nshop,other,bundle,8,12\nshop,polyimide,bundle,12,\nshop,coax,member,8,",
        fields: &[
            field("practice", Name, "whose practice it is").required(),
            field("insulation", Words(&["other", "polyimide", "coax"]), "polyimide, also under PTFE; a coaxial cable; or anything else").required(),
            field("of", Words(&["bundle", "member"]), "whose diameter counts: the bundle's with its coverings, or the wire's or cable's own")
                .required(),
            field("minimum_diameters", Factor, "least radius on the inside of the bend, in diameters").within(0.5, 100.0).required(),
            field("preferred_diameters", Factor, "radius to be kept for long, in diameters; shown, not judged").within(0.5, 100.0),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "support pitch",
        form: Form::Csv,
        doc: "How far apart ties and clamps may be: `catalog/support-pitch.csv` in the folder; its rows of ties, or of clamps, take the place of \
              all shipped ones of the kind. Rows rise with the bundle's diameter.",
        example: "what,bundle_to_mm,pitch_mm\nclamp,12,300\nclamp,,450",
        fields: &[
            field("what", Words(&["tie", "clamp"]), "ties or clamps").required(),
            field("bundle_to", Number(Length), "the largest bundle, with its coverings, that the row is for").default("any"),
            field("pitch", Number(Length), "farthest that two may be apart").required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "free-air current",
        form: Form::Csv,
        doc: "Current of a single copper wire in free air at sea level: `catalog/ampacity-free-air.csv` in the folder. Rows of the folder for a \
              gauge take the place of all shipped rows for it. Between two rises current follows a straight line in logarithms; above the last \
              it is held.",
        example: "gauge_awg,rise_k,current_a\n20,35,9.6\n20,140,21.5",
        fields: &[
            field("gauge", Number(Gauge), "gauge").required(),
            field("rise", Number(TemperatureRise), "rise of the conductor over the air").required(),
            field("current", Number(Current), "current").above(0.0, 1e5).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "bundle factor",
        form: Form::Csv,
        doc: "Factor of a wire in a bundle in air: `catalog/derating-bundle-air.csv` in the folder takes the place of the whole shipped table.",
        example: "wires,loaded_percent,factor_percent\n1,20,100\n8,20,79.5\n33,20,53",
        fields: &[
            field("wires", Count, "wires of the bundle, the wire itself included").required(),
            field("loaded", Number(Share), "share of them that is loaded at the same time").above(0.0, 1.0).required(),
            field("factor", Number(Share), "factor").above(0.0, 1.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "altitude factor",
        form: Form::Csv,
        doc: "Factor of a wire in air for altitude: `catalog/derating-altitude-air.csv` in the folder takes the place of the whole shipped table.",
        example: "altitude_ft,factor_percent\n0,100\n20000,91",
        fields: &[
            field("altitude", Number(Length), "altitude").within(-500.0, 1e5).required(),
            field("factor", Number(Share), "factor").above(0.0, 1.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "short current",
        form: Form::Csv,
        doc: "Current of a wire in a large bundle in air, factors included: `catalog/ampacity-bundle-air.csv` in the folder adds rows to the \
              shipped ones; the same metal, gauge and rating takes the shipped row's place. It is shown beside the factors where its conditions \
              hold, and judged where the other table does not have the metal.",
        example: "conductor,gauge_awg,rating_degc,current_a\ncopper,20,150,7",
        fields: &[
            field("conductor", METALS, "metal").required(),
            field("gauge", Number(Gauge), "gauge").required(),
            field("rating", Number(Temperature), "rated conductor temperature").required(),
            field("current", Number(Current), "current").above(0.0, 1e5).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "vacuum current",
        form: Form::Csv,
        doc: "Current of a wire in vacuum: `catalog/ampacity-space.csv` in the folder. Rows of the folder for a rule set take the place of all \
              shipped rows for it. A bundle of 2 to 15 wires takes the single current times (29 − wires)/28, a larger one half of it; where \
              the table states a current for bundles of 15 or more too, both are shown and the lower is judged.",
        example: "rules,conductor,gauge_awg,single_a,bundle_a\nnasa,copper,20,6.5,3.7",
        fields: &[
            field("rules", Name, "the rule set, as `ampacity` of a profile names it").required(),
            field("conductor", METALS, "metal").required(),
            field("gauge", Number(Gauge), "gauge").required(),
            field("single", Number(Current), "current of a wire by itself").above(0.0, 1e5).required(),
            field("bundle", Number(Current), "current of each wire in a bundle of 15 or more").above(0.0, 1e5),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "insulation factor",
        form: Form::Csv,
        doc: "Factor of the vacuum currents for the rated temperature of the insulation: `catalog/ampacity-ratings.csv` in the folder. Rows of the \
              folder for a rule set take the place of all shipped rows for it.",
        example: "rules,rating_degc,factor_percent\nmine,200,100\nmine,150,80",
        fields: &[
            field("rules", Name, "the rule set").required(),
            field("rating", Number(Temperature), "rated conductor temperature").required(),
            field("factor", Number(Share), "factor").above(0.0, 5.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "ampacity condition",
        form: Form::Csv,
        doc: "What tables of wire current are for: `catalog/ampacity-conditions.csv` in the folder. Rows of the folder for a rule set take the place \
              of all shipped rows for it. Each row may fill some of the cells, so that each value can have its source; of `aircraft` they are \
              the conditions of the short table.",
        example: "rules,surroundings_degc,below_rating_k\nmine,70,50",
        fields: &[
            field("rules", Name, "the rule set").required(),
            field("surroundings", Number(Temperature), "hottest surroundings"),
            field("below_rating", Number(TemperatureRise), "how far a conductor stays below its rating"),
            field("loaded", Number(Share), "largest share of a bundle that is loaded").above(0.0, 1.0),
            field("altitude", Number(Length), "highest altitude").within(-500.0, 1e5),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "insulation",
        form: Form::Csv,
        doc: "Insulation of wires for heat, by family: `catalog/insulations.csv` in the folder. Rows of the folder for a family take the place of all \
              shipped rows for it. Each row may fill some of the cells, so that each value can have its source.",
        example: "family,conductivity_w_per_m_per_k,emittance_low_percent,emittance_percent,emittance_high_percent\netfe,0.24,80,85,90",
        fields: &[
            field("family", Name, "the family, as a wire type names it").required(),
            field("conductivity", Number(Conductivity), "thermal conductivity"),
            field("emittance_low", Number(Share), "least emittance of its surface in the infrared").above(0.0, 1.0).default("`emittance`"),
            field("emittance", Number(Share), "typical emittance").above(0.0, 1.0),
            field("emittance_high", Number(Share), "greatest emittance").above(0.0, 1.0).default("`emittance`"),
            field("damage", Number(Temperature), "temperature at which it is harmed at once, for faults; above the rating of its wires"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "plating",
        form: Form::Csv,
        doc: "Hottest that the coating of a conductor's strands may be for long: `catalog/platings.csv` in the folder; a coating's row takes the place \
              of the shipped one.",
        example: "plating,limit_degc\ntin,150",
        fields: &[
            field("plating", Words(&["tin", "silver", "nickel"]), "the coating").required(),
            field("limit", Number(Temperature), "its limit").required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "device",
        form: Form::Csv,
        doc: "Types of breaker, fuse and limiter, as `device` of a protector names them: `catalog/devices.csv` in the folder. Rows of the folder for a \
              type take the place of all shipped rows for it. Each row may fill some of the cells, so that each value can have its source; a row \
              without rating holds for every rating of the type. A rating that has no rows takes the multiples of the nearest one, and that is \
              marked; its interrupting capacity and resistance it does not take.",
        example: "type,kind,rating_a,holds_percent,ultimate_percent,interrupts_a\nmy-breaker,breaker,,115,138,\nmy-breaker,breaker,5,,,6000",
        fields: &[
            field("type", Name, "the type").required(),
            field("kind", Words(&["breaker", "fuse", "limiter"]), "what it is").required(),
            field("rating", Number(Current), "the rating that the row is for").above(0.0, 1e5).default("every rating of the type"),
            field("holds", Number(Share), "share of the rating that it carries for good at 25 degC").above(0.0, 100.0),
            field("ultimate", Number(Share), "share of the rating at which it has to open in the end at 25 degC: its ultimate trip").above(0.0, 100.0),
            field("interrupts", Number(Current), "greatest direct current that it interrupts").above(0.0, 1e6),
            field("limits", Number(Share), "of a limiter: the most that it lets through, as a share of its class").above(0.0, 100.0),
            field("ohms_low", Number(Resistance), "least resistance when closed").default("`ohms`"),
            field("ohms", Number(Resistance), "typical resistance when closed"),
            field("ohms_high", Number(Resistance), "greatest resistance when closed").default("`ohms`"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "trip band",
        form: Form::Csv,
        doc: "When devices open: `catalog/trip-bands.csv` in the folder. Rows of the folder for a type take the place of all shipped rows for it. The rows \
              of one type, rating and ambient are a band: by rising current the time that it holds at least and the time by which it has \
              opened, neither rising. Between points the logarithm of the time runs straight over that of the current; a band is never carried on beyond \
              its last point. A rating without a band takes that of the nearest one in multiples of the rating, and the shape is marked as assumed.",
        example: "type,rating_a,ambient_degc,current_percent,shortest_s,longest_s\nNSN-5925-00-226-0377,5,71,200,0.3,1.6\nNSN-5925-00-226-0377,5,71,600,0.04,0.2",
        fields: &[
            field("type", Name, "the type, as `devices.csv` names it").required(),
            field("rating", Number(Current), "the rating that the row is for").above(0.0, 1e5).default("every rating of the type"),
            field("ambient", Number(Temperature), "temperature around the device").required(),
            field("current", Number(Share), "current as a share of the rating").above(0.0, 1e4).required(),
            field("shortest", Number(Duration), "it holds for at least so long"),
            field("longest", Number(Duration), "it has opened by then"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "device ambient",
        form: Form::Csv,
        doc: "How the currents of a type move with the temperature around it, where its maker says so: `catalog/device-ambients.csv` in the folder. Rows of \
              the folder for a type take the place of all shipped rows for it. Between two rows the factor runs straight; beyond the last it is held, and that \
              is marked. A type without rows follows the usual law of a thermal device, the square root of (155 degC − T)/130 K, assumed.",
        example: "type,ambient_degc,factor_percent\nFM09A,-20,107\nFM09A,60,95",
        fields: &[
            field("type", Name, "the type, as `devices.csv` names it").required(),
            field("ambient", Number(Temperature), "temperature around the device").required(),
            field("factor", Number(Share), "factor of its currents against those of its rating").above(0.0, 10.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "battery type",
        form: Form::Csv,
        doc: "Types of cell or battery, as `type` of a battery names them: `catalog/batteries.csv` in the folder. Rows of the folder for a type take the place \
              of all shipped rows for it. Each row may fill some of the cells, so that each value can have its source. Voltage and resistance come from \
              `battery-curves.csv`, or from three points of a discharge curve at one current: full, end of the exponential part, end of the nominal part. Each row \
              with `pair_percent` and `pair_time_s` adds a resistance that follows the current late.",
        example: "type,kind,rated_ah,cut_off_v,full_v,exponential_v,exponential_charge_ah,nominal_v,nominal_charge_ah,typical_a,ohms_mohm\nmy-cell,rechargeable,7,1,1.39,1.28,1.3,1.18,6.25,1.3,4.6",
        fields: &[
            field("type", Name, "the type").required(),
            field("kind", Words(&["primary", "rechargeable"]), "whether it can be charged").required(),
            field("rated", Number(Charge), "charge that it gives at the rated current and temperature").above(0.0, 1e9),
            field("rated_current", Number(Current), "current at which it is rated").above(0.0, 1e5),
            field("rated_temperature", Number(Temperature), "temperature at which it is rated").default("25 degC"),
            field("cut_off", Number(Voltage), "terminal voltage at which it is empty").above(0.0, 1e5),
            field("greatest", Number(Current), "greatest current for long").above(0.0, 1e5),
            field("pair", Number(Share), "a resistance that follows late, as a share of the series resistance").above(0.0, 100.0),
            field("pair_time", Number(Duration), "its time constant"),
            field("full", Number(Voltage), "terminal voltage when full, at the current `typical`").above(0.0, 1e5),
            field("exponential", Number(Voltage), "terminal voltage at the end of the exponential part").above(0.0, 1e5),
            field("exponential_charge", Number(Charge), "charge given by then").above(0.0, 1e9),
            field("nominal", Number(Voltage), "terminal voltage at the end of the nominal part").above(0.0, 1e5),
            field("nominal_charge", Number(Charge), "charge given by then").above(0.0, 1e9),
            field("typical", Number(Current), "current of that curve").above(0.0, 1e5),
            field("ohms", Number(Resistance), "series resistance of that curve"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "battery point",
        form: Form::Csv,
        doc: "Voltage without load and series resistance of a type over depth of discharge and temperature: `catalog/battery-curves.csv` in the folder. Rows of the \
              folder for a type take the place of all shipped rows for it. By rising temperature, and within one by rising depth from 0 to 100 %; the voltage \
              never rises. Straight between points and temperatures; beyond the coldest and hottest row the value there is held, and that is marked.",
        example: "type,temperature_degc,depth_percent,emf_v,ohms_mohm\nsilver-zinc,25,0,1.86,1.2\nsilver-zinc,25,100,1.4,1.5",
        fields: &[
            field("type", Name, "the type, as `batteries.csv` names it").required(),
            field("temperature", Number(Temperature), "temperature of the cell").required(),
            field("depth", Number(Share), "share of its charge that has been given").required(),
            field("emf", Number(Voltage), "voltage without load"),
            field("ohms", Number(Resistance), "series resistance"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "battery capacity",
        form: Form::Csv,
        doc: "What share of its rated charge a type gives, by rate and temperature: `catalog/battery-capacities.csv` in the folder. Rows of the folder for a type take \
              the place of all shipped rows for it. By rising temperature, and within one by rising rate. What a cold or fast discharge keeps back counts as gone: \
              it does not come back in the warmth.",
        example: "type,temperature_degc,rate_percent,gives_percent\nsilver-zinc,25,20,100\nsilver-zinc,25,100,85",
        fields: &[
            field("type", Name, "the type, as `batteries.csv` names it").required(),
            field("temperature", Number(Temperature), "temperature of the cell").required(),
            field("rate", Number(Share), "current as a share of the rated charge per hour").above(0.0, 1e3).required(),
            field("gives", Number(Share), "share of its rated charge that it gives").above(0.0, 2.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "battery loss",
        form: Form::Csv,
        doc: "What a type loses while it stands charged, or filled: `catalog/battery-losses.csv` in the folder. Rows of the folder for a type take the place of all \
              shipped rows for it. By rising temperature; what is left falls by the same share in each equal time.",
        example: "type,temperature_degc,loss_percent,over_d\nsilver-zinc,23,33,90",
        fields: &[
            field("type", Name, "the type, as `batteries.csv` names it").required(),
            field("temperature", Number(Temperature), "temperature of storage").required(),
            field("loss", Number(Share), "share that is lost").within(0.0, 0.999).required(),
            field("over", Number(Duration), "in this time").required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "mass growth",
        form: Form::Csv,
        doc: "Growth of mass to be expected at each stage of a design: `catalog/mass-growth.csv` in the folder adds rows to the shipped ones; the same \
              stage takes the shipped row's place.",
        example: "stage,growth_percent\nlayout,15",
        fields: &[
            field("stage", Name, "the stage, as `mass_stage` of the vehicle names it").required(),
            field("growth", Number(Share), "growth, as a share of the mass that is known").within(0.0, 5.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "crimp tensile",
        form: Form::Csv,
        doc: "Least pull that parts a crimped joint, on samples: `catalog/crimp-tensile.csv` in the folder; the same size and gauge takes the shipped \
              row's place. Printed on the record of a crimp tool's set-up, never for a joint that flies.",
        example: "size,gauge_awg,pull_n\n20,22,53",
        fields: &[
            field("size", Name, "contact size; none for a lug or splice"),
            field("gauge", Number(Gauge), "gauge of the wire").required(),
            field("pull", Number(Force), "least force that parts it").above(0.0, 1e6).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "shield end",
        form: Form::Csv,
        doc: "How shields end: `catalog/shield-ends.csv` in the folder; the same kind of circuit takes the shipped row's place.",
        example: "circuit,bare_mm,lead_mm\nsensitive,15,40",
        fields: &[
            field("circuit", Words(&["sensitive", "ordinary", "group"]), "sensitive to interference, ordinary, or several shields on one lead")
                .required(),
            field("bare", Number(Length), "from the end of the shield to the termination of the conductor, at most").within(0.0, 10.0),
            field("lead", Number(Length), "length of the ground lead, at most").within(0.0, 10.0).required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "test level",
        form: Form::Csv,
        doc: "Levels of electrical tests of the harness: `catalog/test-levels.csv` in the folder; the same test takes the shipped row's place. No net is \
              tested above three quarters of the rating of its weakest part.",
        example: "test,volts_v,leakage_ma,limit_ohm\nwithstand,1000,1,\ninsulation,500,,1e8",
        fields: &[
            field("test", Words(&["withstand", "insulation"]), "dielectric withstand, or insulation resistance").required(),
            field("volts", Number(Voltage), "direct voltage").above(0.0, 1e5).required(),
            field("leakage", Number(Current), "of a withstand test: greatest leakage"),
            field("limit", Number(Resistance), "of an insulation test: least resistance"),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "spare contacts",
        form: Form::Csv,
        doc: "Spare contacts of a connector: `catalog/spare-contacts.csv` in the folder takes the place of the shipped rows. By rising size; a row \
              without `contacts_to` is for all that are larger.",
        example: "contacts_to,spares\n25,2\n,4",
        fields: &[
            field("contacts_to", Count, "connectors with up to so many contacts"),
            field("spares", Count, "spare contacts").required(),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
    TableSpec {
        key: "protector gauge",
        form: Form::Csv,
        doc: "Largest breaker and fuse that protect a wire, by its gauge: `catalog/protector-gauges.csv` in the folder. Rows of the folder for a chart \
              take the place of all shipped rows for it.",
        example: "chart,gauge_awg,breaker_a,fuse_a\nmine,20,7.5,5",
        fields: &[
            field("chart", Name, "the chart, as `protector_chart` of a profile names it").required(),
            field("gauge", Number(Gauge), "gauge").required(),
            field("breaker", Number(Current), "largest rating of a circuit breaker").above(0.0, 1e5),
            field("fuse", Number(Current), "largest rating of a fuse").above(0.0, 1e5),
            CATALOG_SOURCE[0],
            CATALOG_SOURCE[1],
            CATALOG_SOURCE[2],
            field("note", Text, "free text, shown with the source"),
        ],
    },
];

/// Every kind of row with its fields, in the order of the manual.
pub fn tables() -> &'static [TableSpec] {
    TABLES
}

/// The table of a word.
pub fn table(key: &str) -> Option<&'static TableSpec> {
    TABLES.iter().find(|t| t.key == key)
}

/// The list that rows of a table stand in; `None` for what stands in TOML files.
pub fn list_of(table: &TableSpec) -> Option<String> {
    Some(match (table.form, table.key) {
        (Form::Root | Form::Table, _) => return None,
        (Form::Csv, "wire") => "wires.csv".to_owned(),
        (Form::Csv, "pin") => "pins.csv".to_owned(),
        (Form::Csv, "wire type") => "catalog/wires.csv".to_owned(),
        (Form::Csv, "contact size") => "catalog/contacts.csv".to_owned(),
        (Form::Csv, "contact current") => "catalog/contact-currents.csv".to_owned(),
        (Form::Csv, "arrangement") => "catalog/arrangements.csv".to_owned(),
        (Form::Csv, "bend radius") => "catalog/bend-radii.csv".to_owned(),
        (Form::Csv, "support pitch") => "catalog/support-pitch.csv".to_owned(),
        (Form::Csv, key) => {
            let list = crate::catalog::LISTS.iter().find(|(_, table)| *table == key);
            format!("catalog/{}.csv", list.map_or(key, |(stem, _)| stem))
        }
    })
}

/// Whether a head begins a column that is kept in the notes.
pub(crate) fn is_note_head(head: &str) -> bool {
    head.strip_prefix("note_").is_some_and(|rest| !rest.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_unique_and_references_exist() {
        for (row, t) in TABLES.iter().enumerate() {
            assert!(TABLES[..row].iter().all(|other| other.key != t.key), "{}", t.key);
            for (at, f) in t.fields.iter().enumerate() {
                assert!(t.fields[..at].iter().all(|other| other.key != f.key), "{}.{}", t.key, f.key);
                assert!(!f.help.is_empty() && f.key.chars().all(|c| c.is_ascii_lowercase() || c == '_'), "{}.{}", t.key, f.key);
                if let FieldKind::Id(kind) | FieldKind::Ids(kind) = f.kind {
                    // Cavities have no rows of their own.
                    // Nor have classes, which the profile lists; wires are rows of a list.
                    assert!(
                        matches!(kind, "cavity" | "class" | "wire") || table(kind).is_some_and(|t| t.form == Form::Table),
                        "{}.{} names {kind}",
                        t.key,
                        f.key
                    );
                }
            }
        }
    }
}
