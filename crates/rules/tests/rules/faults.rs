//! Rules of the sweep over single faults, on tables made by hand.

use crate::*;

/// A function on two loads with what one fault of a table does to it in the one phase.
pub(crate) fn swept(function: &str, case: Option<(Effect, Reason, Announced)>) -> (Design, Verdict) {
    let more = format!(
        "[load.Y]\nline = \"node:L\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n[phase.work]\nduration = \"2 h\"\n\
         [monitor.M]\nwatches = \"bus:A\"\nwhat = \"voltage\"\nthreshold = \"1 V\"\n\
         [function.f]\nneeds = [{{ any = [\"load:X\", \"load:Y\"] }}]\n{function}"
    );
    let (design, _) = judge(&bench("current = \"1 A\"", &more));
    let (f, phase) = (Id::from_row(0), Id::from_row(0));
    let link = ElementId::Link(Id::from_row(0));
    let fault =
        Fault { kind: FaultKind::WireOpen, item: link.into(), change: FaultChange::Open(link), conservative: false, assumed: false };
    let functions = case.iter().map(|&(effect, reason, _)| FunctionCase { function: f, effect, reason, intermittent: None }).collect();
    let announced = case.map_or(Announced::Latent, |case| case.2);
    let case = PhaseCase { phase, announced, opens: Vec::new(), burns_on: false, functions };
    let table = FaultTable {
        catalogue: Catalogue { faults: vec![fault], lacking: Vec::new() },
        rows: vec![FaultRow { fault: 0, phases: vec![case] }],
        wanted: vec![(phase, vec![f])],
        cases: 1,
        ..FaultTable::default()
    };
    let prepared = analysis::prepare(&design);
    let case = Case { design: &design, prepared: &prepared, today: None };
    let verdict = rules::judge_sweep(&case, &table);
    drop(prepared);
    (design, verdict)
}

/// Told by a monitor.
fn by() -> Announced {
    Announced::By(Id::from_row(0), Alarm { by: 2.0, threshold: 1.0 })
}

/// Lost is a finding; brought back by an action, upset for a while or outside a limit it is not. One that has to survive nothing is not judged at all.
#[test]
fn ft_01_is_for_what_is_lost() {
    for effect in Effect::ALL {
        let (_, verdict) = swept("survives = 1", Some((effect, Reason::Works, by())));
        let expected: &[&str] = if effect == Effect::Lost { &["FT-01/function:f"] } else { &[] };
        assert_eq!(findings_of(&verdict, "FT-01"), expected, "{effect:?}");
        assert_eq!(counted(&verdict, "FT-01"), 1);
    }
    let (_, verdict) = swept("survives = 0", Some((Effect::Lost, Reason::Works, by())));
    assert_eq!((findings(&verdict), counted(&verdict, "FT-01")), (vec![], 0));
    let (_, verdict) = swept("survives = 1", Some((Effect::Lost, Reason::Works, by())));
    assert_eq!(verdict.findings[0].text, "lost by one fault: link:feed parts");
    assert_eq!(verdict.findings[0].phases, [(Id::from_row(0), Corner::Low)]);
}

/// A pair that loses a function is a finding for one that has to survive two faults, and none for one that has to survive one; a pair that upsets it is none.
#[test]
fn ft_01_is_for_pairs_where_two_are_to_be_survived() {
    for (survives, effect, finds) in
        [(2, Effect::Lost, true), (1, Effect::Lost, false), (2, Effect::Restored, false), (2, Effect::UpsetUntilActed, false)]
    {
        let more = format!("[phase.work]\nduration = \"2 h\"\n[function.f]\nneeds = [\"load:X\"]\nsurvives = {survives}\n");
        let (design, _) = judge(&bench("current = \"1 A\"", &more));
        let (f, phase) = (Id::from_row(0), Id::from_row(0));
        let link = |row| ElementId::Link(Id::from_row(row));
        let fault = |row| Fault {
            kind: FaultKind::WireOpen,
            item: link(row).into(),
            change: FaultChange::Open(link(row)),
            conservative: false,
            assumed: false,
        };
        let row = PairRow { function: f, faults: [0, 1], effect, reason: Reason::Works, first: 1, phases: vec![phase] };
        let table = PairTable {
            catalogue: Catalogue { faults: vec![fault(0), fault(0)], lacking: Vec::new() },
            faults: vec![0, 1],
            rows: vec![row],
            wanted: vec![(phase, vec![f])],
            ..PairTable::default()
        };
        let prepared = analysis::prepare(&design);
        let case = Case { design: &design, prepared: &prepared, today: None };
        let verdict = rules::judge_pairs(&case, &table);
        let expected: &[&str] = if finds { &["FT-01/function:f"] } else { &[] };
        assert_eq!(findings_of(&verdict, "FT-01"), expected, "{survives} {effect:?}");
        assert_eq!(counted(&verdict, "FT-01"), usize::from(survives == 2));
        if finds {
            assert_eq!(verdict.findings[0].text, "lost by one pair of faults: link:feed parts, then link:feed parts");
            assert_eq!(verdict.findings[0].phases, [(phase, Corner::Low)]);
        }
    }
}

/// One path fewer is a finding where nothing tells of it; a monitor or a test on the ground is enough. Exposed for the two hours of the phase.
#[test]
fn ft_02_is_for_what_nobody_knows() {
    let next = Reason::Next(ElementId::Load(Id::from_row(1)));
    let ground = Announced::OnGround(Id::from_row(0));
    for (effect, announced, finds) in [
        (Effect::KeptWithFewer, Announced::Latent, true),
        (Effect::KeptWithFewer, ground, false),
        (Effect::KeptWithFewer, by(), false),
        (Effect::Kept, Announced::Latent, false),
        (Effect::Lost, Announced::Latent, false),
    ] {
        let (_, verdict) = swept("survives = 1", Some((effect, next, announced)));
        let found = findings_of(&verdict, "FT-02");
        assert_eq!(found, if finds { vec!["FT-02/function:f"] } else { vec![] }, "{effect:?} {announced:?}");
        if finds {
            let text = "one path fewer for 2 h 0 min and nothing tells, by one fault: link:feed parts, and load:Y then loses it";
            assert_eq!(verdict.findings[0].text, text);
        }
    }
}

/// What must be kept is not to be upset while something else burns; of a function that may be given up it is no finding.
#[test]
fn ft_03_is_for_what_must_be_kept() {
    let reason = Reason::LetGo(Id::from_row(0), physics::Volt(7.5));
    for (function, effect, finds) in [
        ("survives = 1\nmust_keep = true", Effect::UpsetAlone, true),
        ("survives = 1\nmust_keep = true", Effect::UpsetUntilActed, true),
        ("survives = 1\nmust_keep = true", Effect::Degraded, false),
        ("survives = 1", Effect::UpsetAlone, false),
    ] {
        let (_, verdict) = swept(function, Some((effect, reason, by())));
        assert_eq!(findings_of(&verdict, "FT-03"), if finds { vec!["FT-03/function:f"] } else { vec![] }, "{function} {effect:?}");
    }
    let (_, verdict) = swept("survives = 1\nmust_keep = true", Some((Effect::UpsetAlone, reason, by())));
    assert_eq!(verdict.findings[0].text, "upset by one fault: link:feed parts: load:X lets go at 7.5 V");
}

/// A finding of the sweep is accepted as any other, and reopens in a phase that was not accepted; without a sweep nobody misses it.
#[test]
fn dispositions_hold_for_the_sweep() {
    let accepted = |phases: &str| {
        let disposition = format!(
            "survives = 1\n[phase.rest]\nduration = \"{} s\"\n[disposition.\"FT-01/function:f\"]\naction = \"accept\"\nreason = \"one box\"\n\
             authority = \"wiring board\"\ndate = \"2026-03-02\"\nphases = [\"{phases}\"]\n",
            60
        );
        swept(&disposition, Some((Effect::Lost, Reason::Works, by()))).1.findings[0].state.clone()
    };
    assert!(matches!(accepted("work"), FindingState::Accepted(_)));
    assert!(matches!(accepted("rest"), FindingState::Reopened(..)));
    let text = "[function.f]\nneeds = [\"load:X\"]\n[disposition.\"FT-01/function:f\"]\naction = \"accept\"\nreason = \"one box\"\nauthority = \"board\"\ndate = \"2026-03-02\"\n";
    let (_, verdict) = judge(&bench("current = \"1 A\"", text));
    assert_eq!(verdict.idle_dispositions, [0usize; 0]);
}
