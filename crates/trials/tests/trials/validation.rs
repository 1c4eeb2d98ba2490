//! Published cases, each a folder under `validation/` read and judged as a user's would be.

use analysis::{Silent, Stages, Study, run};
use model::*;
use physics::*;
use rules::{Case, judge_study};
use std::path::PathBuf;
use trials::{close, design, read_folder, read_text, root};

fn folder(name: &str) -> PathBuf {
    root().join("validation").join(name)
}

/// The design of a case: every file of its folder but the expected values.
fn case(name: &str) -> Design {
    design(&read_folder(&folder(name)).into_iter().filter(|(path, _)| path != "expected.csv").collect::<Vec<_>>())
}

fn study(design: &Design) -> Study<'_> {
    run(design, Stages::default(), &Silent).expect("nobody cancelled")
}

fn verdict(design: &Design, study: &Study) -> Verdict {
    judge_study(&Case { design, prepared: &study.prepared, today: None }, study)
}

/// Rows of the case's `expected.csv`, which holds no quotes.
fn expected(name: &str) -> Vec<Vec<String>> {
    let text = read_text(&folder(name).join("expected.csv"));
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

fn wire(design: &Design, name: &str) -> Id<Wire> {
    trials::named(&design.wires, name, |row| &row.name)
}

/// The margin of a wire's own drop.
fn margin(verdict: &Verdict, wire: Id<Wire>) -> &Margin {
    let subject = Subject::Element(ElementId::Wire(wire));
    verdict.margins.iter().find(|m| m.rule == RuleCode("VD-01") && m.subject == subject).expect("the wire is judged by VD-01")
}

/// FAA AC 43.13-1B CHG 1, Tables 11-7 and 11-8 [read]; the misprint is explained in the case's README.
#[test]
fn faa_ac_43_13_1b_tables_11_7_11_8() {
    let name = "faa_ac_43_13_1b_tables_11_7_11_8";
    let design = case(name);
    let study = study(&design);
    let verdict = verdict(&design, &study);
    let expected = expected(name);
    assert_eq!(expected.len(), design.wires.len());
    for row in &expected {
        let [wire_name, _printed, drop, tolerance, passes] = row.as_slice() else { panic!("five cells: {row:?}") };
        let margin = margin(&verdict, wire(&design, wire_name));
        close(margin.value, number(drop), number(tolerance) * number(drop));
        assert_eq!(margin.margin() >= 0.0, passes == "yes", "{wire_name}: {} V of {} V", margin.value, margin.limit);
        assert_eq!(margin.limit, 1.0, "the profile's continuous drop at 28 V");
    }
    let failing = expected.iter().filter(|row| row[4] == "no").count();
    assert_eq!(verdict.findings.len(), failing);
    // The tables name no insulation, so that what a wire may carry is not known.
    let others: Vec<&NotJudged> = verdict.not_judged.iter().filter(|row| row.rule.0 != "AM-01" || row.missing != "type").collect();
    assert!(others.is_empty(), "{others:?}");
}

/// FAA AC 43.13-1B CHG 1, page 11-26, Example No. 1 [read]: between No. 8 and No. 10, so No. 8.
#[test]
fn faa_ac_43_13_1b_example_1() {
    let name = "faa_ac_43_13_1b_example_1";
    let design = case(name);
    let study = study(&design);
    let verdict = verdict(&design, &study);
    let specs: Vec<&WireSpec> = design.wire_specs.iter().map(|(_, spec)| spec).collect();
    let chosen = decide::thinnest_gauge(specs.iter().copied(), Ampere(20.0), Metre(50.0 * 0.3048), Volt(1.0), Kelvin::from_celsius(20.0));
    let chosen = chosen.expect("one of the sizes is thick enough");
    assert_eq!(chosen.gauge, gauge::Awg(8));
    for row in expected(name) {
        let [wire_name, passes, is_chosen] = row.as_slice() else { panic!("three cells: {row:?}") };
        let id = wire(&design, wire_name);
        let spec = &design.wire_specs[design.wires[id].spec.expect("a gauge is stated").value];
        assert_eq!(margin(&verdict, id).margin() >= 0.0, passes == "yes", "{wire_name}");
        assert_eq!(spec.gauge == chosen.gauge, is_chosen == "yes", "{wire_name}");
    }
}

/// Copper against temperature and conductivity: the sources are in the case's README.
#[test]
fn copper_resistance() {
    let name = "copper_resistance";
    let design = case(name);
    let study = study(&design);
    let expected = expected(name);
    assert!(expected.len() >= 8);
    for row in &expected {
        let [wire_name, phase, over, ohms, tolerance, _source] = row.as_slice() else { panic!("six cells: {row:?}") };
        let phase_id = |name: &str| trials::named(&design.phases, name, |row| &row.name);
        let element = ElementId::Wire(wire(&design, wire_name));
        let at = |phase| study.prepared.ohms(&Scenario::new(phase_id(phase), Corner::Typical), element).expect("a length is stated").0;
        // A ratio to another phase where the source gives a factor, ohms where it gives ohms.
        let value = if over.is_empty() { at(phase) } else { at(phase) / at(over) };
        close(value, number(ohms), number(tolerance));
    }
}
