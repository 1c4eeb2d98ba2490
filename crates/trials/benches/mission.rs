//! Times of the mission: the timeline of gannet, and plans when its second battery is lost in the docked phase, in some 25 and 100 periods.

use analysis::timeline::{Fineness, timeline};
use analysis::{Prepared, Silent, prepare};
use decide::{Ask, endure};
use divan::{Bencher, black_box};
use model::*;
use physics::Second;
use std::path::Path;
use trials::{design, read_folder};

fn gannet() -> Design {
    design(&read_folder(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/gannet-mended")))
}

fn points(prepared: &Prepared, corners: &[Corner], lost: &[Subject]) -> Vec<Point> {
    let of = |phase| corners.iter().map(move |&corner| Scenario { lost: lost.to_vec(), ..Scenario::new(phase, corner) });
    prepared.design().phases.ids().flat_map(of).map(|scenario| prepared.point(&scenario)).collect()
}

fn main() {
    divan::main();
}

#[divan::bench(sample_count = 5)]
fn whole_mission(bencher: Bencher) {
    let design = gannet();
    let prepared = prepare(&design);
    let points = points(&prepared, &Corner::ALL, &[]);
    bencher.bench_local(|| timeline(black_box(&prepared), &points, Fineness::USUAL, &Silent));
}

#[divan::bench(args = [25, 100], sample_count = 3)]
fn plan(bencher: Bencher, periods: usize) {
    let design = gannet();
    let prepared = prepare(&design);
    let battery = design.batteries.iter().find(|(_, row)| &*row.name == "BT2").expect("of gannet").0;
    let lost = [Subject::Element(ElementId::Source(battery))];
    let (unchanged, points) = (points(&prepared, &[Corner::Low], &[]), points(&prepared, &[Corner::Low], &lost));
    let from = design.phases.iter().find(|(_, row)| &*row.name == "docked").expect("of gannet").0;
    let ask = Ask { points: &points, unchanged: &unchanged, from, into: Second(0.0), need: None, standing: Vec::new(), periods };
    bencher.bench_local(|| endure(black_box(&prepared), &ask, &Silent));
}
