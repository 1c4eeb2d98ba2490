//! Changes of state as people write them, to a [`Scenario`] and back.
//!
//! ```text
//! open CB3            breaker, fuse, switch or source commanded off; a wire, contact or other conductor parted
//! open W12@from       a wire parted at one end
//! close CB3           commanded on
//! ohm J4.7=2ohm       another resistance
//! stuck CB3=closed    whatever it is commanded (closed, open; of a diode shorted, open)
//! short J3.1,J3.2,5mohm   a short circuit between two ends; W12@0.5 is half-way along a wire, `structure` the reference ground
//! lose battery:B      lost altogether
//! cut segment:S1      a segment of the harness parted with every wire in it
//! lose zone:Z         every segment in it parted
//! fit SF1             a plug, cap, saver or adapter put on its connector, in place of what stands there
//! unfit SF1           taken off
//! set-load F1=40W     drawing something else (on, off, a power, a current, a resistance)
//! zone Z:pressure=0   other surroundings: pressure, gas_temperature, gravity, air_speed, walls, sun; `fan=off`
//! ```

use crate::Names;
use analysis::Prepared;
use model::*;
use physics::*;

/// What a change does: the word before its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verb {
    /// Parts or commands off.
    Open,
    /// Commands on.
    Close,
    /// Another resistance.
    Ohm,
    /// Stuck, whatever is commanded.
    Stuck,
    /// A short circuit.
    Short,
    /// Lost altogether.
    Lose,
    /// A segment of the harness parted.
    Cut,
    /// A plug, cap, saver or adapter put on its connector.
    Fit,
    /// A plug, cap, saver or adapter taken off.
    Unfit,
    /// A load draws something else.
    SetLoad,
    /// A zone has other surroundings.
    Zone,
}

impl Verb {
    /// All of them.
    pub const ALL: [Verb; 11] = [
        Verb::Open,
        Verb::Close,
        Verb::Ohm,
        Verb::Stuck,
        Verb::Short,
        Verb::Lose,
        Verb::Cut,
        Verb::Fit,
        Verb::Unfit,
        Verb::SetLoad,
        Verb::Zone,
    ];
    /// As written: `open`, `set-load`.
    pub fn word(self) -> &'static str {
        match self {
            Verb::Open => "open",
            Verb::Close => "close",
            Verb::Ohm => "ohm",
            Verb::Stuck => "stuck",
            Verb::Short => "short",
            Verb::Lose => "lose",
            Verb::Cut => "cut",
            Verb::Fit => "fit",
            Verb::Unfit => "unfit",
            Verb::SetLoad => "set-load",
            Verb::Zone => "zone",
        }
    }
}

/// An amount that stands in a change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amount {
    /// Resistance.
    Resistance(Ohm),
    /// Power.
    Power(Watt),
    /// Current.
    Current(Ampere),
    /// Pressure.
    Pressure(Pascal),
    /// Temperature.
    Temperature(Kelvin),
    /// Speed.
    Speed(MetrePerSecond),
    /// Power on an area.
    Flux(WattPerSquareMetre),
    /// A number without a unit.
    Plain(f64),
}

/// Reads `2ohm`, `40 W`, `1.5 A`, `80 kPa`, `0`; an error is a sentence.
pub type ReadAmount<'a> = &'a dyn Fn(&str) -> Result<Amount, String>;

/// Lays changes over a scenario.
///
/// # Errors  In a sentence: what is not understood, what has no such name, or what cannot be changed so.
pub fn change(
    prepared: &Prepared,
    names: &Names,
    base: Scenario,
    changes: &[(Verb, String)],
    read: ReadAmount,
) -> Result<Scenario, String> {
    let reader = Reader { prepared, design: prepared.design(), names, read };
    changes.iter().try_fold(base, |scenario, (verb, text)| {
        reader.one(scenario, *verb, text.trim()).map_err(|message| format!("--{} {text}: {message}", verb.word()))
    })
}

struct Reader<'a> {
    prepared: &'a Prepared<'a>,
    design: &'a Design,
    names: &'a Names,
    read: ReadAmount<'a>,
}

impl Reader<'_> {
    fn one(&self, mut scenario: Scenario, verb: Verb, text: &str) -> Result<Scenario, String> {
        match verb {
            Verb::Open => self.open(&mut scenario, text)?,
            Verb::Close => match self.names.one(text, |_| true)? {
                Subject::Element(element) if is_commanded(element) => scenario.switches.push((element, Commanded::On)),
                Subject::Element(ElementId::Load(_)) => return Err(format!("a load goes on with --set-load {text}=on")),
                _ => return Err("only a breaker, fuse, switch, relay, tie, source or converter can be closed".to_owned()),
            },
            Verb::Ohm => {
                let (name, amount) = self.pair(text, "J4.7=2ohm")?;
                let Amount::Resistance(ohms) = (self.read)(amount)? else {
                    return Err(format!("{amount:?} is no resistance with its unit"));
                };
                if ohms.0 <= 0.0 {
                    return Err("a resistance lies above zero".to_owned());
                }
                for element in self.conductors(name)? {
                    if !has_ohms(element) {
                        let words = self.design.element_words(element);
                        return Err(format!("{words} has no resistance of its own that could change"));
                    }
                    scenario.ohms.push((element, ohms));
                }
            }
            Verb::Stuck => {
                let (name, state) = self.pair(text, "CB3=closed")?;
                let element = self.element(name)?;
                let is_diode = matches!(element, ElementId::Diode(_));
                let can = is_diode || matches!(element, ElementId::Protector(_) | ElementId::Switch(_));
                let stuck = match state {
                    _ if !can => return Err("only a breaker, fuse, switch, relay, tie or diode can be stuck".to_owned()),
                    "open" => Stuck::Open,
                    "closed" if !is_diode => Stuck::Closed,
                    "shorted" if is_diode => Stuck::Shorted,
                    _ if is_diode => return Err(format!("a diode is stuck open or shorted, not {state:?}")),
                    _ => return Err(format!("it is stuck open or closed, not {state:?}")),
                };
                scenario.stuck.push((element, stuck));
            }
            Verb::Short => self.short(&mut scenario, text)?,
            Verb::Lose => match self.names.one(text, |_| true)? {
                Subject::Clamp(clamp) if self.design.clamps[clamp].with.is_empty() => {
                    return Err("it carries nothing, and holds one segment: --cut that; what is lost without it is for the mechanical design to say".to_owned());
                }
                subject => scenario.lost.push(subject),
            },
            Verb::Cut => match self.names.one(text, |subject| matches!(subject, Subject::Segment(_)))? {
                subject @ Subject::Segment(_) => scenario.lost.push(subject),
                _ => return Err(format!("{text} is no segment; --open parts a wire, contact or pin")),
            },
            Verb::Fit | Verb::Unfit => {
                let Subject::Fitted(item) = self.names.one(text, |subject| matches!(subject, Subject::Fitted(_)))? else {
                    return Err(format!("{text} is no plug, cap, saver or adapter"));
                };
                self.fit(&mut scenario, verb, item);
            }
            Verb::SetLoad => {
                let (name, value) = self.pair(text, "F1=40W")?;
                let is_load = |subject| matches!(subject, Subject::Element(ElementId::Load(_)));
                let Subject::Element(ElementId::Load(load)) = self.names.one(name, is_load)? else {
                    return Err(format!("{name} is no load"));
                };
                scenario.loads.push((load, self.load_change(value)?));
            }
            Verb::Zone => {
                const EXAMPLE: &str = "hold:pressure=0 or hold:fan=off";
                let (left, value) = self.pair(text, EXAMPLE)?;
                let (name, field) = left.rsplit_once(':').ok_or_else(|| format!("write it as {EXAMPLE}"))?;
                let Subject::Zone(zone) = self.names.one(name.trim(), |subject| matches!(subject, Subject::Zone(_)))? else {
                    return Err(format!("{name} is no zone"));
                };
                scenario.zones.push((zone, self.zone_change(field.trim(), value)?));
            }
        }
        Ok(scenario)
    }

    /// Puts an item on its connector or takes it off. A list as the phase has it says nothing and stays away.
    fn fit(&self, scenario: &mut Scenario, verb: Verb, item: Id<Fitted>) {
        let of_phase = fitted_in_phase(self.design, scenario.phase);
        let connector = |item: Id<Fitted>| self.design.fitted[item].connector.value;
        let mut items = scenario.fitted.take().unwrap_or_else(|| of_phase.clone());
        // A connector takes one item at a time.
        items.retain(|&other| if verb == Verb::Fit { connector(other) != connector(item) } else { other != item });
        if verb == Verb::Fit {
            items.push(item);
        }
        items.sort_unstable();
        scenario.fitted = (items != of_phase).then_some(items);
    }

    fn load_change(&self, value: &str) -> Result<LoadChange, String> {
        let below = |amount: f64| if amount < 0.0 { Err("a load draws no less than nothing".to_owned()) } else { Ok(()) };
        Ok(match value {
            "on" => LoadChange::On,
            "off" => LoadChange::Off,
            _ => match (self.read)(value)? {
                Amount::Power(power) => below(power.0).map(|()| LoadChange::Power(power))?,
                Amount::Current(current) => below(current.0).map(|()| LoadChange::Current(current))?,
                Amount::Resistance(Ohm(ohms)) if ohms <= 0.0 => return Err("a resistance lies above zero".to_owned()),
                Amount::Resistance(ohms) => LoadChange::Resistance(ohms),
                _ => return Err(format!("{value:?} is no power, current or resistance with its unit")),
            },
        })
    }

    /// What a field of a zone becomes; zero needs no unit.
    fn zone_change(&self, field: &str, value: &str) -> Result<ZoneChange, String> {
        if (field, value) == ("fan", "off") {
            return Ok(ZoneChange::FanOff);
        }
        let below = || Err(format!("{field} is no less than nothing"));
        Ok(match (field, (self.read)(value)) {
            ("fan", _) => return Err("a fan is off; which speed it makes is air_speed".to_owned()),
            (_, Err(message)) => return Err(message),
            ("pressure" | "air_speed" | "sun" | "gravity", Ok(Amount::Plain(n))) if n < 0.0 => return below(),
            ("pressure", Ok(Amount::Pressure(Pascal(n)))) | ("air_speed", Ok(Amount::Speed(MetrePerSecond(n)))) if n < 0.0 => {
                return below();
            }
            ("sun", Ok(Amount::Flux(WattPerSquareMetre(n)))) if n < 0.0 => return below(),
            ("walls" | "gas_temperature", Ok(Amount::Temperature(Kelvin(n)))) if n < 0.0 => {
                return Err("absolute zero is -273.15 degC".to_owned());
            }
            ("pressure", Ok(Amount::Pressure(pressure))) => ZoneChange::Pressure(pressure),
            ("pressure", Ok(Amount::Plain(0.0))) => ZoneChange::Pressure(Pascal(0.0)),
            ("gravity", Ok(Amount::Plain(gravity))) => ZoneChange::Gravity(gravity),
            ("air_speed", Ok(Amount::Speed(speed))) => ZoneChange::AirSpeed(speed),
            ("air_speed", Ok(Amount::Plain(0.0))) => ZoneChange::AirSpeed(MetrePerSecond(0.0)),
            ("sun", Ok(Amount::Flux(flux))) => ZoneChange::Sun(flux),
            ("sun", Ok(Amount::Plain(0.0))) => ZoneChange::Sun(WattPerSquareMetre(0.0)),
            ("gas_temperature", Ok(Amount::Temperature(t))) => ZoneChange::GasTemperature(t),
            ("walls", Ok(Amount::Temperature(t))) => ZoneChange::Walls(t),
            ("pressure" | "gravity" | "air_speed" | "sun" | "gas_temperature" | "walls", Ok(_)) => {
                return Err(format!("{value:?} is no {}", field.replace('_', " ")));
            }
            _ => return Err(format!("a zone has pressure, gas_temperature, gravity, air_speed, walls, sun and fan, and no {field}")),
        })
    }

    fn open(&self, scenario: &mut Scenario, text: &str) -> Result<(), String> {
        if let Some((name, side)) = text.split_once('@') {
            let element = self.element(name)?;
            let ElementId::Wire(wire) = element else { return Err("only a wire can be parted at one end".to_owned()) };
            let end = match side {
                "from" => self.design.wires[wire].from.value,
                "to" => self.design.wires[wire].to.value,
                _ => return Err(format!("a wire has the ends {name}@from and {name}@to")),
            };
            scenario.opened.push((element, Some(end)));
            return Ok(());
        }
        match self.names.one(text, |_| true)? {
            Subject::Element(element) if is_commanded(element) => scenario.switches.push((element, Commanded::Off)),
            Subject::Element(element) => scenario.opened.push((element, None)),
            Subject::Pin(pin) => scenario.opened.extend(self.at_pin(pin, text)?.into_iter().map(|element| (element, None))),
            subject => {
                let words = self.design.subject_words(subject);
                return Err(format!("{words} is no conductor or switch; `--lose {words}` takes it away with all that lands on it"));
            }
        }
        Ok(())
    }

    /// What parts when a pin opens: its mated contact; of a terminal the wires on it.
    fn at_pin(&self, pin: Id<Pin>, text: &str) -> Result<Vec<ElementId>, String> {
        let contacts: Vec<ElementId> =
            self.design.contacts.iter().filter(|(_, c)| c.a == pin || c.b == pin).map(|(id, _)| ElementId::Contact(id)).collect();
        if !contacts.is_empty() {
            return Ok(contacts);
        }
        let lands = |w: &Wire| w.from.value == End::Pin(pin) || w.to.value == End::Pin(pin);
        let wires: Vec<ElementId> = self.design.wires.iter().filter(|(_, w)| lands(w)).map(|(id, _)| ElementId::Wire(id)).collect();
        if wires.is_empty() { Err(format!("neither a contact nor a wire is on {text}")) } else { Ok(wires) }
    }

    fn short(&self, scenario: &mut Scenario, text: &str) -> Result<(), String> {
        let parts: Vec<&str> = text.split(',').map(str::trim).collect();
        let is_along = parts[0].contains('@');
        let (a, b, ohms) = match parts[..] {
            [a] if is_along => (a, "structure", None),
            [a, b] => (a, b, None),
            [a, b, ohms] => (a, b, Some(ohms)),
            _ => return Err("write A,B or A,B,OHM; W12@0.5 alone is a short to structure".to_owned()),
        };
        let ohms = match ohms.map(self.read).transpose()? {
            None => BOLTED,
            Some(Amount::Resistance(ohms)) if ohms.0 > 0.0 => ohms,
            Some(_) => return Err("the third part is a resistance above zero".to_owned()),
        };
        let (a, b) = (self.place(a)?, self.place(b)?);
        if a == b {
            return Err("both places are the same".to_owned());
        }
        for place in [a, b] {
            let Place::Along(element, _) = place else { continue };
            let other = |&(a, b, _): &(Place, Place, Ohm)| [a, b].iter().any(|p| matches!(p, Place::Along(e, _) if *e == element));
            if scenario.shorts.iter().any(other) || matches!((a, b), (Place::Along(..), Place::Along(..))) {
                return Err("one short circuit along a conductor, and from there to an end or to structure".to_owned());
            }
        }
        scenario.shorts.push((a, b, ohms));
        Ok(())
    }

    fn place(&self, text: &str) -> Result<Place, String> {
        if text == "structure" {
            return match self.design.grounds.iter().any(|(_, ground)| ground.reference) {
                true => Ok(Place::Structure),
                false => Err("no ground point is the reference, so there is no structure to short to".to_owned()),
            };
        }
        if let Some((name, at)) = text.split_once('@') {
            let element = self.element(name)?;
            if !matches!(element, ElementId::Wire(_) | ElementId::Strap(_) | ElementId::StructurePath(_) | ElementId::Link(_)) {
                return Err(format!("{name} is nothing that one can be along"));
            }
            let fraction: f64 = at.parse().ok().filter(|at| (0.0..=1.0).contains(at)).ok_or_else(|| {
                format!("{at:?} is no fraction of a conductor: {name}@0 is its `from` end, {name}@0.5 half-way, {name}@1 its `to` end")
            })?;
            return Ok(Place::Along(element, fraction));
        }
        let end = self.end(text)?;
        match self.prepared.node(end) {
            Some(_) => Ok(Place::End(end)),
            None => Err(format!("nothing that conducts lands on {text}")),
        }
    }

    fn end(&self, text: &str) -> Result<End, String> {
        if let Some(name) = text.strip_prefix("shell:") {
            let found = self.design.connectors.iter().find(|(_, row)| *row.name == *name);
            return found.map(|(id, _)| End::Shell(id)).ok_or_else(|| self.names.unknown(text));
        }
        if let Some(name) = text.strip_prefix("case:") {
            let found = self.design.units.iter().find(|(_, row)| *row.name == *name);
            return found.map(|(id, _)| End::Case(id)).ok_or_else(|| self.names.unknown(text));
        }
        match self.names.one(text, |_| true)? {
            Subject::Pin(id) => Ok(End::Pin(id)),
            Subject::Inner(id) => Ok(End::Inner(id)),
            Subject::Splice(id) => Ok(End::Splice(id)),
            Subject::Stud(id) => Ok(End::Stud(id)),
            Subject::Ground(id) => Ok(End::Ground(id)),
            Subject::Connector(id) => Ok(End::Shell(id)),
            Subject::Unit(id) => Ok(End::Case(id)),
            Subject::Element(ElementId::Wire(_)) => Err(format!("say where along {text}: {text}@0.5 is half-way")),
            _ => Err(format!("{text} is no end: a pin, bus, node, splice, stud, ground, shell or case is one")),
        }
    }

    fn element(&self, name: &str) -> Result<ElementId, String> {
        match self.names.one(name, |subject| matches!(subject, Subject::Element(_)))? {
            Subject::Element(element) => Ok(element),
            _ => Err(format!("{name} is no element")),
        }
    }

    /// An element, or the contacts of a pin.
    fn conductors(&self, name: &str) -> Result<Vec<ElementId>, String> {
        match self.names.one(name, |subject| matches!(subject, Subject::Element(_) | Subject::Pin(_)))? {
            Subject::Element(element) => Ok(vec![element]),
            Subject::Pin(pin) => self.at_pin(pin, name),
            _ => Err(format!("{name} is no conductor")),
        }
    }

    fn pair<'t>(&self, text: &'t str, example: &str) -> Result<(&'t str, &'t str), String> {
        let (name, value) = text.split_once('=').ok_or_else(|| format!("write it as {example}"))?;
        Ok((name.trim(), value.trim()))
    }
}

/// The changes of several states as they are written once for all of them: what stands on connectors may differ between phases, all else is
/// that of the first.
pub fn words_of_all(design: &Design, scenarios: &[Scenario]) -> Vec<(Verb, String)> {
    let mut list: Vec<(Verb, String)> = Vec::new();
    // What is taken off comes before what is put on: put on, an item takes the place of what stands there.
    for wanted in [Verb::Unfit, Verb::Fit] {
        for (verb, text) in scenarios.iter().flat_map(|scenario| words(design, scenario)) {
            if verb == wanted && !list.contains(&(verb, text.clone())) {
                list.push((verb, text));
            }
        }
    }
    let first = scenarios.first().map(|scenario| words(design, scenario)).unwrap_or_default();
    list.extend(first.into_iter().filter(|(verb, _)| !matches!(verb, Verb::Fit | Verb::Unfit)));
    list
}

/// What a phase has on connectors, in the order of rows.
fn fitted_in_phase(design: &Design, phase: Id<Phase>) -> Vec<Id<Fitted>> {
    let mut items: Vec<Id<Fitted>> = design.phases[phase].fitted.iter().map(|item| item.value).collect();
    items.sort_unstable();
    items
}

fn is_commanded(element: ElementId) -> bool {
    matches!(element, ElementId::Protector(_) | ElementId::Switch(_) | ElementId::Source(_) | ElementId::Converter(_))
}

fn has_ohms(element: ElementId) -> bool {
    use ElementId::*;
    matches!(
        element,
        Wire(_)
            | Strap(_)
            | StructurePath(_)
            | Contact(_)
            | Link(_)
            | Source(_)
            | Protector(_)
            | Switch(_)
            | Diode(_)
            | Converter(_)
            | Receiver(_)
    )
}

/// The changes of a scenario as they are written; [`change`] reads them back to the same scenario.
pub fn words(design: &Design, scenario: &Scenario) -> Vec<(Verb, String)> {
    let element = |id: ElementId| design.element_words(id);
    let place = |place: Place| match place {
        Place::End(end) => design.end_name(end),
        Place::Along(id, at) => format!("{}@{at}", element(id)),
        Place::Structure => "structure".to_owned(),
    };
    let mut list = Vec::new();
    for &(id, commanded) in &scenario.switches {
        let verb = if commanded == Commanded::On { Verb::Close } else { Verb::Open };
        list.push((verb, element(id)));
    }
    for &(id, end) in &scenario.opened {
        let side = match (id, end) {
            (ElementId::Wire(wire), Some(end)) if end == design.wires[wire].from.value => "@from",
            (ElementId::Wire(_), Some(_)) => "@to",
            _ => "",
        };
        list.push((Verb::Open, element(id) + side));
    }
    list.extend(scenario.ohms.iter().map(|&(id, Ohm(ohms))| (Verb::Ohm, format!("{}={ohms}ohm", element(id)))));
    for &(id, stuck) in &scenario.stuck {
        let state = match stuck {
            Stuck::Closed => "closed",
            Stuck::Open => "open",
            Stuck::Shorted => "shorted",
        };
        list.push((Verb::Stuck, format!("{}={state}", element(id))));
    }
    list.extend(scenario.shorts.iter().map(|&(a, b, Ohm(ohms))| (Verb::Short, format!("{},{},{ohms}ohm", place(a), place(b)))));
    list.extend(scenario.lost.iter().map(|&subject| {
        let verb = if matches!(subject, Subject::Segment(_)) { Verb::Cut } else { Verb::Lose };
        (verb, design.subject_words(subject))
    }));
    if let Some(items) = &scenario.fitted {
        let of_phase = fitted_in_phase(design, scenario.phase);
        let named = |&item: &Id<Fitted>| design.subject_words(Subject::Fitted(item));
        list.extend(of_phase.iter().filter(|item| !items.contains(item)).map(|item| (Verb::Unfit, named(item))));
        list.extend(items.iter().filter(|item| !of_phase.contains(item)).map(|item| (Verb::Fit, named(item))));
    }
    for &(load, change) in &scenario.loads {
        let value = match change {
            LoadChange::On => "on".to_owned(),
            LoadChange::Off => "off".to_owned(),
            LoadChange::Power(Watt(watts)) => format!("{watts}W"),
            LoadChange::Current(Ampere(amperes)) => format!("{amperes}A"),
            LoadChange::Resistance(Ohm(ohms)) => format!("{ohms}ohm"),
        };
        list.push((Verb::SetLoad, format!("{}={value}", element(ElementId::Load(load)))));
    }
    for &(zone, change) in &scenario.zones {
        let value = match change {
            ZoneChange::Pressure(Pascal(pascal)) => format!("pressure={pascal}Pa"),
            ZoneChange::GasTemperature(Kelvin(kelvin)) => format!("gas_temperature={kelvin}K"),
            ZoneChange::Gravity(gravity) => format!("gravity={gravity}"),
            ZoneChange::AirSpeed(MetrePerSecond(speed)) => format!("air_speed={speed}m/s"),
            ZoneChange::FanOff => "fan=off".to_owned(),
            ZoneChange::Walls(Kelvin(kelvin)) => format!("walls={kelvin}K"),
            ZoneChange::Sun(WattPerSquareMetre(flux)) => format!("sun={flux}W/m2"),
        };
        list.push((Verb::Zone, format!("{}:{value}", design.subject_words(Subject::Zone(zone)))));
    }
    list
}
