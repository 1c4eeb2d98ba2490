//! PP-06 to PP-09: rules of breakers, fuses and limiters that need no fault current but the largest, each at its limit.

use crate::*;

/// The 5 A breaker of the federal supply catalogue.
const FAST: &str = "device = \"NSN-5925-00-226-0377\"";

/// The bench in one phase, no hotter than an ambient and colder at times, with a protector between its feed and the loads at `node:K`.
pub(crate) fn behind(protector: &str, celsius: f64, rows: &str) -> (Design, Verdict) {
    let phase = format!("[phase.p]\nambient = {{ low = \"-60 degC\", typical = \"0 degC\", high = \"{celsius} degC\" }}\n");
    let (kind, keys) = protector.split_once(' ').unwrap_or((protector, ""));
    let protector = format!("[node.K]\n[{kind}.P]\nline = \"node:L\"\nload = \"node:K\"\nohms = \"1 mohm\"\n{keys}\n");
    judge(&bench("current = \"1 mA\"\ninrush = \"1 mA\"\ninrush_time = \"1 ms\"", &format!("{protector}{rows}{phase}")))
}

/// A load at `node:K`.
pub(crate) fn load(name: &str, keys: &str) -> String {
    format!("[load.{name}]\nline = \"node:K\"\nreturn = \"node:R\"\n{keys}\n")
}

fn close(value: f64, expected: f64) {
    assert!((value - expected).abs() <= 1e-4 * expected.abs(), "{value} is not {expected}");
}

/// Half of what an FM09A fuse carries at 60 °C, 95 % of its rating (MIL-PRF-23419/9D, fuse selection, step 3, read; 50 %: EEE-INST-002, from
/// memory): 4 A × 0.5 × 0.95 = 1.9 A. A breaker: 80 % (common practice), at 25 °C 4 A of 5 A, at 71 °C times √(84/130) = 0.8038: 3.2153 A (computed).
/// A limiter: its class (ECSS-E-ST-20-20C, 3.2.14, read).
#[test]
fn pp_07_share_of_the_rating_at_the_hottest_ambient() {
    let breaker = format!("breaker rating = \"5 A\"\n{FAST}");
    for (protector, celsius, limit) in [
        (&*breaker, 25.0, 4.0),
        (&*breaker, 71.0, 3.2153),
        ("fuse rating = \"4 A\"\ndevice = \"FM09A\"", 60.0, 1.9),
        ("fuse rating = \"4 A\"\ndevice = \"FM09A\"", 20.0, 2.0 * (1.07 - 0.07 * 40.0 / 45.0)),
        ("limiter rating = \"2 A\"\ndevice = \"latching-limiter\"", 50.0, 2.0),
    ] {
        for (share, fails) in [(0.95, false), (0.9999, false), (1.0001, true), (1.5, true)] {
            let (design, verdict) = behind(protector, celsius, &load("Y", &format!("current = \"{} A\"", limit * share)));
            let subject = format!("{}:P", protector.split(' ').next().unwrap_or_default());
            let margin = margin_of(&design, &verdict, "PP-07", &subject, Bound::AtMost);
            close(margin.limit, limit);
            close(margin.value, limit * share);
            assert_eq!(findings_of(&verdict, "PP-07").len(), usize::from(fails), "{protector} {celsius} {share}");
        }
    }
}

/// The current of a device is exactly at its limit: it passes.
#[test]
fn pp_07_the_limit_itself_passes() {
    let breaker = format!("breaker rating = \"5 A\"\n{FAST}");
    let (_, verdict) = behind(&breaker, 25.0, &load("Y", "current = \"4 A\""));
    assert_eq!(findings_of(&verdict, "PP-07"), [""; 0]);
    let (_, verdict) = behind(&breaker, 25.0, &load("Y", "current = \"4.000001 A\""));
    assert_eq!(findings_of(&verdict, "PP-07"), ["PP-07/breaker:P"]);
}

/// Intermittent loads alone are nothing that flows for long; beside a continuous one they count.
#[test]
fn pp_07_intermittent_loads() {
    let breaker = format!("breaker rating = \"5 A\"\n{FAST}");
    let short = load("Y", "current = \"4.5 A\"\nduty = \"intermittent\"");
    let (design, verdict) = behind(&breaker, 25.0, &short);
    assert_eq!(margin_of(&design, &verdict, "PP-07", "breaker:P", Bound::AtMost).value, 0.0);
    let (design, verdict) = behind(&breaker, 25.0, &(short + &load("Z", "current = \"0.1 A\"")));
    close(margin_of(&design, &verdict, "PP-07", "breaker:P", Bound::AtMost).value, 4.6);
    assert_eq!(findings_of(&verdict, "PP-07"), ["PP-07/breaker:P"]);
}

#[test]
fn pp_07_what_is_missing_and_what_it_rests_on() {
    let missing = |protector: &str| {
        let (design, verdict) = behind(protector, 25.0, &load("Y", "current = \"1 A\""));
        not_judged_of(&design, &verdict, "PP-07")
    };
    assert_eq!(missing("breaker rating = \"5 A\""), [("breaker:P".to_owned(), "device".to_owned())]);
    assert_eq!(missing(&format!("breaker {FAST}")), [("breaker:P".to_owned(), "rating".to_owned())]);
    // A rating that the catalog does not have: the shape is assumed, and the finding says so.
    let (design, verdict) = behind(&format!("breaker rating = \"7.5 A\"\n{FAST}"), 30.0, &load("Y", "current = \"7 A\""));
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "PP-07").expect("7 A of 6 A");
    assert!(finding.text.contains("shape assumed: scaled from 5 A"), "{}", finding.text);
    let margin = margin_of(&design, &verdict, "PP-07", "breaker:P", Bound::AtMost);
    let what: Vec<&str> = margin.rests_on.notes.iter().map(|&id| design.note(id).what.as_str()).collect();
    for word in ["shape of the band", "what it holds", "trip times of NSN-5925-00-226-0377 7.5 A at -60 degC"] {
        assert!(what.iter().any(|what| what.contains(word)), "{word}: {what:?}");
    }
}

/// 200 % of a 5 A breaker for its shortest time, 0.38 s (NSN 5925-00-226-0377, read): 100 %.
#[test]
fn pp_08_one_load_at_the_shortest_time() {
    for (time, fails) in [("0.37 s", false), ("0.38 s", false), ("0.381 s", true)] {
        let starts = load("Y", &format!("current = \"1 A\"\ninrush = \"10 A\"\ninrush_time = \"{time}\""));
        let (design, verdict) = behind(&format!("breaker rating = \"5 A\"\n{FAST}"), 25.0, &starts);
        let expected = time.trim_end_matches(" s").parse::<f64>().unwrap_or_default() / 0.38 * 100.0;
        close(margin_of(&design, &verdict, "PP-08", "breaker:P", Bound::AtMost).value, expected);
        assert_eq!(findings_of(&verdict, "PP-08").len(), usize::from(fails), "{time}");
    }
    // Hotter it opens sooner: 10 A are 2 / 0.8038 = 2.4882 times what 71 °C leaves of 5 A, and that takes 0.38 s × 1.2441^(ln(0.1 / 0.38) / ln 2) = 0.2499 s.
    let starts = load("Y", "current = \"1 A\"\ninrush = \"10 A\"\ninrush_time = \"0.3 s\"");
    let (design, verdict) = behind(&format!("breaker rating = \"5 A\"\n{FAST}"), 71.0, &starts);
    let shortest = 0.38 * (2.0 / 0.803_837 / 2.0_f64).powf((0.1_f64 / 0.38).ln() / 2.0_f64.ln());
    close(margin_of(&design, &verdict, "PP-08", "breaker:P", Bound::AtMost).value, 0.3 / shortest * 100.0);
}

/// Two loads start together: 10 + 5 A for 0.1 s, 300 % of 5 A, held for 0.1740 s (band read, arithmetic computed); then 1 + 5 A for 0.1 s more, 120 %,
/// held for 0.38 s at least: 57.5 + 26.3 % (computed). A heater beside them flows all the time and has no inrush.
#[test]
fn pp_08_shares_of_loads_that_start_together_add_up() {
    let two = load("Y", "current = \"1 A\"\ninrush = \"10 A\"\ninrush_time = \"0.1 s\"")
        + &load("Z", "current = \"1 A\"\ninrush = \"5 A\"\ninrush_time = \"0.2 s\"");
    let breaker = format!("breaker rating = \"5 A\"\n{FAST}");
    let (design, verdict) = behind(&breaker, 25.0, &two);
    let at_300 = 0.38 * 1.5_f64.powf((0.1_f64 / 0.38).ln() / 2.0_f64.ln());
    assert!((at_300 - 0.1740).abs() < 1e-4);
    close(margin_of(&design, &verdict, "PP-08", "breaker:P", Bound::AtMost).value, 100.0 * (0.1 / at_300 + 0.1 / 0.38));
    // 28 V less the drop of 0.102 ohm over 56 ohm: some 0.5 A more. 15.5 A, then 6.5 A.
    let (design, verdict) = behind(&breaker, 25.0, &(two.clone() + &load("H", "resistance = \"56 ohm\"\nkind = \"resistive\"")));
    let more = margin_of(&design, &verdict, "PP-08", "breaker:P", Bound::AtMost).value;
    assert!(more > 84.5 && more < 90.0, "{more}");
    // What a load draws at first is not known of a lamp; what lasts but has no length neither.
    let (design, verdict) = behind(&breaker, 25.0, &(two + &load("L", "resistance = \"56 ohm\"\nkind = \"lamp\"")));
    assert_eq!(not_judged_of(&design, &verdict, "PP-08"), [("breaker:P".to_owned(), "inrush of load:L".to_owned())]);
    let (design, verdict) = behind(&breaker, 25.0, &load("Y", "power = \"20 W\"\ninrush = \"10 A\""));
    assert_eq!(not_judged_of(&design, &verdict, "PP-08"), [("breaker:P".to_owned(), "inrush_time of load:Y".to_owned())]);
    // Beyond the last point of the band, 1000 %, nothing is known.
    let (design, verdict) = behind(&breaker, 25.0, &load("Y", "current = \"1 A\"\ninrush = \"60 A\"\ninrush_time = \"1 ms\""));
    let missing = not_judged_of(&design, &verdict, "PP-08");
    assert!(missing.len() == 1 && missing[0].1.starts_with("trip-bands of NSN-5925-00-226-0377 at 60"), "{missing:?}");
}

/// Behind an upper breaker only what shares its nearest protector starts together: 10 A beside 1 A of the other branch, 11 A of 5 A, 220 %.
#[test]
fn pp_08_one_branch_at_a_time() {
    let branch = |n: u32| {
        format!(
            "[node.K{n}]\n[breaker.B{n}]\nline = \"node:K\"\nload = \"node:K{n}\"\nrating = \"5 A\"\n{FAST}\nohms = \"1 mohm\"\n\
             [load.Y{n}]\nline = \"node:K{n}\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\ninrush = \"10 A\"\ninrush_time = \"0.1 s\"\n"
        )
    };
    let (design, verdict) = behind(&format!("breaker rating = \"5 A\"\n{FAST}"), 25.0, &(branch(1) + &branch(2)));
    let shortest = 0.38 * 1.1_f64.powf((0.1_f64 / 0.38).ln() / 2.0_f64.ln());
    close(margin_of(&design, &verdict, "PP-08", "breaker:P", Bound::AtMost).value, 100.0 * 0.1 / shortest);
}

/// A limiter of class 2 A charges 300 uF to 27.9 V with the 1 A that its load leaves of 2 A: 8.37 ms of 10 ms (form of ECSS-E-HB-20-20 and
/// times of ECSS-E-ST-20-20C from memory, arithmetic computed); 470 uF take 13.1 ms.
#[test]
fn pp_08_start_up_of_a_limiter() {
    for (microfarads, fails) in [(300.0, false), (470.0, true)] {
        let starts = load("Y", &format!("current = \"1 A\"\ninput_capacitance = \"{microfarads} uF\""));
        let (design, verdict) = behind("limiter rating = \"2 A\"\ndevice = \"latching-limiter\"", 25.0, &starts);
        // 28 V less 1 A × (1 + 100 + 1 mohm).
        close(margin_of(&design, &verdict, "PP-08", "limiter:P", Bound::AtMost).value, microfarads * 1e-6 * 27.898 / 0.010 * 100.0);
        assert_eq!(findings_of(&verdict, "PP-08").len(), usize::from(fails), "{microfarads}");
    }
}

/// Beside an essential radio: a lamp that no function needs, a lamp of a higher tier, a lamp of an essential function, a lamp behind a breaker of its own.
#[test]
fn pp_09_what_shares_the_protector_of_an_essential_load() {
    let radio = load("radio", "current = \"1 A\"") + "[function.talk]\nneeds = [\"load:radio\"]\ntier = 1\n";
    let lamp = load("lamp", "current = \"1 A\"");
    let function = |tier: &str| format!("[function.see]\nneeds = [\"load:lamp\"]\n{tier}\n");
    let own = "[node.K2]\n[breaker.B2]\nline = \"node:K\"\nload = \"node:K2\"\n[load.lamp]\nline = \"node:K2\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n";
    let switched = "[node.K2]\n[switch.S]\nfrom = \"node:K\"\nto = \"node:K2\"\nstate = \"open\"\n\
                    [load.lamp]\nline = \"node:K2\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\nstate = \"off\"\n";
    for (rows, expected) in [
        (radio.clone(), vec![]),
        (radio.clone() + &lamp, vec!["PP-09/breaker:P"]),
        (radio.clone() + &lamp + &function("tier = 2"), vec!["PP-09/breaker:P"]),
        (radio.clone() + &lamp + &function("tier = 1"), vec![]),
        (radio.clone() + own, vec![]),
        (radio.clone() + switched, vec!["PP-09/breaker:P"]),
        (lamp.clone() + &function("tier = 2"), vec![]),
    ] {
        let (_, verdict) = behind("breaker rating = \"5 A\"", 25.0, &rows);
        assert_eq!(findings_of(&verdict, "PP-09"), expected, "{rows}");
    }
    let (design, verdict) = behind("breaker rating = \"5 A\"", 25.0, &(radio + &lamp + &function("")));
    assert_eq!(not_judged_of(&design, &verdict, "PP-09"), [("breaker:P".to_owned(), "tier of the function of load:lamp".to_owned())]);
}

/// Types with complete bands: `lo`, at I on 5 A, opens by 200 A²s / I² and never faster than 0.02 s; `up`, on 20 A, holds 3200 A²s / I².
const OWN: [(&str, &str); 2] = [
    ("catalog/devices.csv", "type,kind,holds_percent,ultimate_percent\nlo,breaker,115,138\nup,breaker,115,138\n"),
    (
        "catalog/trip-bands.csv",
        "type,ambient_degc,current_percent,shortest_s,longest_s\nlo,25,138,,1000\nlo,25,200,0.5,2\nlo,25,2000,0.005,0.02\n\
         up,25,115.01,1000,\nup,25,200,2,5\nup,25,4000,0.005,0.05\n",
    ),
];

/// Two breakers in line before a load, behind some ohms of feed.
pub(crate) fn in_line(upper: &str, lower: &str, feed: f64, more: &str) -> (Design, Verdict) {
    in_line_at("\"25 degC\"", upper, lower, feed, more)
}

fn in_line_at(ambient: &str, upper: &str, lower: &str, feed: f64, more: &str) -> (Design, Verdict) {
    let rows = format!(
        "[node.M]\n[node.K]\n[breaker.UP]\nline = \"node:L\"\nload = \"node:M\"\nohms = \"1 mohm\"\n{upper}\n\
         [breaker.LO]\nline = \"node:M\"\nload = \"node:K\"\nohms = \"1 mohm\"\n{lower}\n\
         [load.Y]\nline = \"node:K\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n{more}[phase.p]\nambient = {ambient}\n"
    );
    let text = bench("current = \"1 mA\"", &rows).replacen("ohms = \"0.1 ohm\"", &format!("ohms = \"{} mohm\"", feed * 1e3), 1);
    let [devices, bands] = OWN;
    judge_files(&[("vehicle.toml", &text), devices, bands], None)
}

const LOWER: &str = "rating = \"5 A\"\ndevice = \"lo\"";
const UPPER: &str = "rating = \"20 A\"\ndevice = \"up\"";

/// 3200 A²s / I² falls to the lower one's 0.02 s at 400 A. The largest current is 28 V over the feed, 1 mohm of battery and 2 mohm of breakers.
#[test]
fn pp_06_selective_up_to_the_largest_current() {
    for (largest, fails) in [(300.0, false), (395.0, false), (405.0, true), (800.0, true)] {
        let (design, verdict) = in_line(UPPER, LOWER, 28.0 / largest - 0.003, "");
        let margin = margin_of(&design, &verdict, "PP-06", "breaker:LO", Bound::AtLeast);
        close(margin.limit, largest);
        close(margin.value, 400.0);
        assert_eq!(findings_of(&verdict, "PP-06").len(), usize::from(fails), "{largest}: {:?}", verdict.findings);
    }
    // In a phase from -55 to 71 °C the upper one is at its hottest, where √(84/130) = 0.8038 of a current take as long: 400 A × 0.8038 = 321.5 A; that the lower one is
    // cold lengthens nothing beyond 2000 %.
    let spread = "{ low = \"-55 degC\", typical = \"20 degC\", high = \"71 degC\" }";
    let (design, verdict) = in_line_at(spread, UPPER, LOWER, 28.0 / 300.0 - 0.003, "");
    close(margin_of(&design, &verdict, "PP-06", "breaker:LO", Bound::AtLeast).value, 400.0 * (84.0_f64 / 130.0).sqrt());
    // 10 A beside the fault: (I + 10)² = 3200 / 0.02, so 390 A.
    let more = "[load.Z]\nline = \"node:M\"\nreturn = \"node:R\"\ncurrent = \"10 A\"\n";
    let (design, verdict) = in_line(UPPER, LOWER, 28.0 / 300.0 - 0.003, more);
    close(margin_of(&design, &verdict, "PP-06", "breaker:LO", Bound::AtLeast).value, 390.0);
    // The wrong way round nothing is selective: where the upper one has to open at all, the lower one still holds.
    let (design, verdict) = in_line(LOWER, UPPER, 28.0 / 300.0 - 0.003, "");
    assert_eq!(margin_of(&design, &verdict, "PP-06", "breaker:LO", Bound::AtLeast).value, 0.0);
}

/// 40 A through a 20 A and a 5 A breaker of the federal supply catalogue's band, worked out as selective (0.171 s below 0.38 s; band read, arithmetic
/// computed): but from 23 A, what 20 A hold for good, to 24.6 A that band says nothing, and above 1000 % neither. No data is no pass.
#[test]
fn pp_06_where_a_band_says_nothing() {
    let fast = |rating: &str| format!("rating = \"{rating} A\"\n{FAST}");
    let (design, verdict) = in_line(&fast("20"), &fast("5"), 28.0 / 40.0 - 0.003, "");
    let missing = not_judged_of(&design, &verdict, "PP-06");
    assert!(missing.len() == 1 && missing[0].1.ends_with("at 23.0 to 24.6 A"), "{missing:?}");
    // An overlap below the largest current is a finding whatever is not known besides; it says both.
    let (design, verdict) = in_line(&fast("20"), &fast("5"), 28.0 / 300.0 - 0.003, "");
    let margin = margin_of(&design, &verdict, "PP-06", "breaker:LO", Bound::AtLeast);
    close(margin.value, 23.0);
    let finding = verdict.findings.iter().find(|f| f.rule.0 == "PP-06").expect("23 A of 300 A");
    assert!(finding.text.contains("the upper one may open first at 72.8 to 200.0 A"), "{}", finding.text);
    assert!(finding.text.contains("no data at 23.0 to 24.6 A, 200.0 to 300.0 A"), "{}", finding.text);
    assert!(finding.text.contains("shape assumed: scaled from 5 A"), "{}", finding.text);
    // Types without a band, or none at all.
    for (upper, lower, field) in [
        ("rating = \"20 A\"", LOWER, "device of breaker:UP"),
        (UPPER, "rating = \"5 A\"", "device"),
        ("rating = \"30 A\"\ndevice = \"NSN-5925-00-752-6909\"", LOWER, "trip-bands of NSN-5925-00-752-6909"),
    ] {
        let (design, verdict) = in_line(upper, lower, 0.1, "");
        assert_eq!(not_judged_of(&design, &verdict, "PP-06"), [("breaker:LO".to_owned(), field.to_owned())], "{upper}");
    }
}

/// A limiter below lets no more than 1.4 times its class through, 7 A: 20 A of breaker above it hold that for good, whatever a short would draw.
#[test]
fn pp_06_a_limiter_below() {
    let limiter = |limits: &str| {
        let rows = format!(
            "[node.M]\n[node.K]\n[breaker.UP]\nline = \"node:L\"\nload = \"node:M\"\nohms = \"1 mohm\"\n{UPPER}\n\
             [limiter.LO]\nline = \"node:M\"\nload = \"node:K\"\nohms = \"1 mohm\"\nrating = \"5 A\"\ndevice = \"li\"\n\
             [load.Y]\nline = \"node:K\"\nreturn = \"node:R\"\ncurrent = \"1 A\"\n[phase.p]\nambient = \"25 degC\"\n"
        );
        let devices =
            format!("type,kind,holds_percent,ultimate_percent,limits_percent\nup,breaker,115,138,\nli,limiter,110,140,{limits}\n");
        let bands = OWN[1].1.replace("up,25,115.01", "li,25,140,0.01,0.02\nup,25,115.01");
        let bands: String = bands.lines().filter(|line| !line.starts_with("lo,")).map(|line| format!("{line}\n")).collect();
        judge_files(
            &[("vehicle.toml", &bench("current = \"1 mA\"", &rows)), ("catalog/devices.csv", &devices), ("catalog/trip-bands.csv", &bands)],
            None,
        )
    };
    // At the most that it lets through it has to open: nothing is left between the two, and nothing is found.
    let (design, verdict) = limiter("140");
    assert_eq!((findings_of(&verdict, "PP-06"), not_judged_of(&design, &verdict, "PP-06")), (vec![], vec![]));
    // Did it let through four times its class, 20 A, its margin would be judged up to there: the breaker holds that too.
    let (design, verdict) = limiter("400");
    close(margin_of(&design, &verdict, "PP-06", "limiter:LO", Bound::AtLeast).limit, 20.0);
    // Without a limit the whole 270 A count.
    let (design, verdict) = limiter("");
    close(margin_of(&design, &verdict, "PP-06", "limiter:LO", Bound::AtLeast).limit, 28.0 / 0.103);
}
