//! What stands on a connector in place of its mate, by hand.

use loomwright_analysis::prepare;
use model::*;
use physics::Ohm;

/// A battery of 28 V behind 0.1 ohm feeds 10 ohm through pins 1 and 2 of J5: by a wire between the same pins of its mate P5, or by a
/// flight plug of 0.4 ohm. A cap has no links.
const VEHICLE: &str = "
format = 1
[unit.BOX]
[node.P]
[node.N]
[ground.G1]
[link.EARTH]
from = \"node:N\"
to = \"ground:G1\"
[connector.J5]
unit = \"BOX\"
mate = \"P5\"
contact = \"20\"
[connector.P5]
[battery.B1]
positive = \"node:P\"
negative = \"node:N\"
emf = \"28 V\"
ohms = \"0.1 ohm\"
[link.OUT]
from = \"node:P\"
to = \"J5.1\"
ohms = \"0.2 ohm\"
[load.H]
line = \"J5.2\"
return = \"node:N\"
resistance = \"10 ohm\"
[flight-plug.FP1]
connector = \"J5\"
links = [[\"1\", \"2\"]]
ohms = { low = \"0.3 ohm\", typical = \"0.4 ohm\", high = \"0.5 ohm\" }
[cap.C1]
connector = \"J5\"
[saver.SV1]
connector = \"J5\"
in_line = true
ohms = { low = \"3 mohm\", typical = \"4 mohm\", high = \"6 mohm\" }
[test-adapter.TA1]
connector = \"P5\"
in_line = true
open = [\"2\"]
ohms = \"20 mohm\"
[phase.mated]
[phase.flight]
fitted = [\"FP1\"]
[phase.capped]
fitted = [\"C1\"]
[phase.saved]
fitted = [\"SV1\"]
";

fn design() -> Design {
    let files = [("vehicle.toml", VEHICLE), ("wires.csv", "wire,from,to,type,gauge_awg,length_m\nW1,P5.1,P5.2,copper-tin,20,10\n")];
    let loaded = input::load(&files.map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec())));
    loaded.design.unwrap_or_else(|| panic!("{:?}", loaded.diagnostics))
}

/// Current of the load with the wire taken as 1 ohm.
fn current(design: &Design, phase: &str, corner: Corner, change: impl Fn(&mut Scenario)) -> f64 {
    let prepared = prepare(design);
    let phase = design.phases.iter().find(|(_, p)| &*p.name == phase).map(|(id, _)| id).expect("a phase of this name");
    let mut scenario = Scenario::new(phase, corner);
    scenario.ohms.push((ElementId::Wire(Id::from_row(0)), Ohm(1.0)));
    change(&mut scenario);
    let point = prepared.point(&scenario);
    let branch = prepared.branch_of(ElementId::Load(Id::from_row(0))).expect("the load has a branch");
    point.current[branch]
}

/// Typical ohms of a contact of size 20: half of 55 mV over 7.5 A. AS39029 / MIL-DTL-38999 contact ratings [from memory].
const CONTACT: f64 = 0.055 / 7.5 / 2.0;

#[track_caller]
fn close(value: f64, expected: f64) {
    assert!((value - expected).abs() < 1e-9, "{value} is not {expected}");
}

#[test]
fn a_fitted_item_takes_the_place_of_the_mate() {
    let design = design();
    close(current(&design, "mated", Corner::Typical, |_| ()), 28.0 / (0.1 + 0.2 + 10.0 + 1.0 + 2.0 * CONTACT));
    close(current(&design, "flight", Corner::Typical, |_| ()), 28.0 / (0.1 + 0.2 + 10.0 + 0.4));
    close(current(&design, "flight", Corner::Low, |_| ()), 28.0 / (0.1 + 0.2 + 10.0 + 0.5));
    close(current(&design, "flight", Corner::High, |_| ()), 28.0 / (0.1 + 0.2 + 10.0 + 0.3));
    close(current(&design, "capped", Corner::Typical, |_| ()), 0.0);
}

#[test]
fn a_scenario_says_otherwise_than_its_phase() {
    let design = design();
    let named = |name: &str| design.fitted.iter().find(|(_, f)| &*f.name == name).map(|(id, _)| id).expect("an item of this name");
    let mated = 28.0 / (0.1 + 0.2 + 10.0 + 1.0 + 2.0 * CONTACT);
    let plugged = 28.0 / (0.1 + 0.2 + 10.0 + 0.4);
    close(current(&design, "flight", Corner::Typical, |s| s.fitted = Some(Vec::new())), mated);
    close(current(&design, "mated", Corner::Typical, |s| s.fitted = Some(vec![named("FP1")])), plugged);
    close(current(&design, "mated", Corner::Typical, |s| s.fitted = Some(vec![named("C1")])), 0.0);
    // A fitted item that is lost conducts no more, and its connector stays without its mate.
    close(current(&design, "flight", Corner::Typical, |s| s.lost.push(Subject::Fitted(named("FP1")))), 0.0);
    close(current(&design, "flight", Corner::Typical, |s| s.opened.push((ElementId::FittedLink(Id::from_row(0)), None))), 0.0);
    assert_eq!(design.element_words(ElementId::FittedLink(Id::from_row(0))), "plug:FP1@1");
}

/// From half to half there are two contacts with a saver between, and the saver's own 4 mohm (3 and 6 at best and worst); of two circuits
/// each. Corner low: the contact at its limit, twice the typical one; corner high: at best, half of it.
#[test]
fn an_item_in_line_adds_a_contact_and_its_own_resistance() {
    let design = design();
    let rest = 0.1 + 0.2 + 10.0 + 1.0;
    close(current(&design, "saved", Corner::Typical, |_| ()), 28.0 / (rest + 2.0 * (2.0 * CONTACT + 0.004)));
    let contact = &design.contacts[Id::from_row(0)].ohms;
    close(contact.high.value.0, 0.055 / 7.5);
    close(current(&design, "saved", Corner::Low, |_| ()), 28.0 / (rest + 2.0 * (2.0 * contact.high.value.0 + 0.006)));
    close(current(&design, "saved", Corner::High, |_| ()), 28.0 / (rest + 2.0 * (2.0 * contact.low.value.0 + 0.003)));
}

#[test]
fn items_in_line_stand_behind_each_other_and_open_what_they_do_not_pass_on() {
    let design = design();
    let named = |name: &str| design.fitted.iter().find(|(_, f)| &*f.name == name).map(|(id, _)| id).expect("an item of this name");
    let (saver, adapter) = (named("SV1"), named("TA1"));
    // The adapter opens circuit 2; circuit 1 is three contacts, 4 and 20 mohm.
    close(current(&design, "saved", Corner::Typical, |s| s.fitted = Some(vec![saver, adapter])), 0.0);
    let prepared = prepare(&design);
    let mut scenario = Scenario::new(design.phases.ids().next().expect("phases"), Corner::Typical);
    scenario.fitted = Some(vec![saver, adapter]);
    let first = design.contacts.ids().next().expect("contacts");
    close(prepared.ohms(&scenario, ElementId::Contact(first)).map_or(0.0, |r| r.0), 3.0 * CONTACT + 0.024);
    assert_eq!(prepared.in_line(&scenario, first), [saver, adapter]);
    // A lost saver parts the halves; one lost that is not fitted does nothing; a plug on the same half parts them too.
    close(current(&design, "saved", Corner::Typical, |s| s.lost.push(Subject::Fitted(saver))), 0.0);
    let mated = 28.0 / (0.1 + 0.2 + 10.0 + 1.0 + 2.0 * CONTACT);
    close(current(&design, "mated", Corner::Typical, |s| s.lost.push(Subject::Fitted(saver))), mated);
    close(current(&design, "saved", Corner::Typical, |s| s.fitted = Some(vec![saver, named("C1")])), 0.0);
}
