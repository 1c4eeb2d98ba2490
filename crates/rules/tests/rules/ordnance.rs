//! Rules of ordnance, by hand: a battery of 28 V behind 0.1 ohm, an arm relay of 10 mohm, 8 ohm of ballast, a bridge wire of 0.9 to 1.1 ohm, a relay of
//! 10 mohm in the return; the structure hangs on the return by 1 mohm. Initiator and margin are made up.

use crate::*;

/// Changes are texts in place of others.
pub(crate) fn firing(changes: &[(&str, &str)]) -> (Design, Verdict) {
    let mut text = r#"
format = 1
profile = "own"
[node.R]
[node.M]
[node.F]
[node.N]
[ground.G]
reference = true
[strap.S]
from = "node:R"
to = "ground:G"
ohms = "1 mohm"
[bus.A]
return = "node:R"
[battery.B]
positive = "bus:A"
negative = "node:R"
emf = "28 V"
ohms = "0.1 ohm"
rating = "10 A"
[relay.ARM]
from = "bus:A"
to = "node:M"
ohms = "10 mohm"
state = "open"
rating_resistive = "4 A"
[link.BALLAST]
from = "node:M"
to = "node:F"
ohms = "8 ohm"
[load.BW]
line = "node:F"
return = "node:N"
resistance = { low = "0.9 ohm", typical = "1 ohm", high = "1.1 ohm" }
kind = "resistive"
state = "off"
[relay.BACK]
from = "node:N"
to = "node:R"
ohms = "10 mohm"
state = "open"
rating_resistive = "4 A"
[initiator.I]
load = "BW"
inhibits = 2
all_fire = "2.5 A"
all_fire_time = "10 ms"
no_fire = "1 A"
[phase.idle]
ambient = "20 degC"
[phase.fire]
ambient = "20 degC"
closed = ["relay:ARM", "relay:BACK"]
on = ["load:BW"]
"#
    .to_owned();
    let mut profile = r#"
[profile.own]
nominal = { value = "28 V", source = "test", how = "read" }
drop_continuous = { value = "28 V", source = "test", how = "read" }
drop_intermittent = { value = "28 V", source = "test", how = "read" }
volts_min = { value = "1 V", source = "test", how = "read" }
volts_max = { value = "34 V", source = "test", how = "read" }
bus_min = { value = "22 V", source = "test", how = "read" }
bus_max = { value = "34 V", source = "test", how = "read" }
firing_margin = { value = "120 %", source = "test", how = "read" }
stray_current = { value = "50 mA", source = "test", how = "read" }
stray_share = { value = "10 %", source = "test", how = "read" }
"#
    .to_owned();
    for (from, to) in changes {
        assert!(text.contains(from) || profile.contains(from), "{from}");
        (text, profile) = (text.replace(from, to), profile.replace(from, to));
    }
    judge_files(&[("vehicle.toml", &text), ("catalog/profiles.toml", &profile)], None)
}

fn near(value: f64, expected: f64) {
    assert!((value - expected).abs() < 1e-4 * expected, "{value}, by hand {expected}");
}

/// 28 V / (0.1 + 0.01 + 8 + 1.1 + 0.01 ohm) = 3.0369 A at the greatest resistance of the bridge wire; 2.5 A × 120 % = 3 A.
#[test]
fn or_01_firing_current() {
    let (design, verdict) = firing(&[]);
    let margin = margin_of(&design, &verdict, "OR-01", "load:BW", Bound::AtLeast);
    near(margin.value, 28.0 / 9.22);
    near(margin.limit, 3.0);
    assert!(findings_of(&verdict, "OR-01").is_empty());
    // 28 V / 9.34 ohm = 2.998 A.
    let (_, verdict) = firing(&[("\"8 ohm\"", "\"8.12 ohm\"")]);
    assert_eq!(findings_of(&verdict, "OR-01"), ["OR-01/load:BW"]);
    // Commanded, and the arm relay left open: nothing flows.
    let (design, verdict) = firing(&[("closed = [\"relay:ARM\", \"relay:BACK\"]", "closed = [\"relay:BACK\"]")]);
    assert_eq!(margin_of(&design, &verdict, "OR-01", "load:BW", Bound::AtLeast).value, 0.0);
    // Both left open: nothing joins it with a source.
    let (design, verdict) = firing(&[("closed = [\"relay:ARM\", \"relay:BACK\"]\n", "")]);
    assert_eq!(margin_of(&design, &verdict, "OR-01", "load:BW", Bound::AtLeast).value, 0.0);
}

/// Melted to the structure 28 V / (0.1 + 0.01 + 8 ohm + 2 mohm beside 1.01 ohm) = 3.4517 A in the arm relay; to the other lead 28 V / (8.12 ohm + 1 mohm) =
/// 3.4479 A in that of the return.
#[test]
fn or_02_switch_after_firing() {
    let (design, verdict) = firing(&[]);
    near(margin_of(&design, &verdict, "OR-02", "relay:ARM", Bound::AtMost).value, 28.0 / (8.11 + 0.002 * 1.01 / 1.012));
    near(margin_of(&design, &verdict, "OR-02", "relay:BACK", Bound::AtMost).value, 28.0 / (8.12 + 0.001 * 1.0 / 1.001));
    // The settled current is 3.07 A.
    let (_, verdict) = firing(&[("rating_resistive = \"4 A\"", "rating_resistive = \"3.45 A\"")]);
    assert_eq!((findings_of(&verdict, "OR-02"), findings_of(&verdict, "SW-01")), (vec!["OR-02/relay:ARM"], vec![]));
}

/// 28 V − 0.1 ohm × 3.4517 A = 27.655 V.
#[test]
fn or_03_bus_after_firing() {
    let (design, verdict) = firing(&[]);
    let margin = margin_of(&design, &verdict, "OR-03", "bus:A", Bound::AtLeast);
    near(margin.value, 28.0 - 0.1 * 28.0 / (8.11 + 0.002 * 0.91 / 0.912));
    let (_, verdict) = firing(&[("bus_min = { value = \"22 V\"", "bus_min = { value = \"27.67 V\"")]);
    assert_eq!((findings_of(&verdict, "OR-03"), findings_of(&verdict, "BB-01")), (vec!["OR-03/bus:A"], vec![]));
}

/// Two initiators beside each other take twice the current when both have fired: the bus falls to 28 V × R/(R + 0.1 ohm), R half of 8.11 ohm and 2 mohm.
#[test]
fn or_03_all_at_once() {
    let second = "[relay.ARM2]\nfrom = \"bus:A\"\nto = \"node:M2\"\nohms = \"10 mohm\"\nstate = \"open\"\nrating_resistive = \"4 A\"\n[node.M2]\n[node.F2]\n[node.N2]\n\
                  [link.BALLAST2]\nfrom = \"node:M2\"\nto = \"node:F2\"\nohms = \"8 ohm\"\n\
                  [load.BW2]\nline = \"node:F2\"\nreturn = \"node:N2\"\nresistance = \"1 ohm\"\nkind = \"resistive\"\nstate = \"off\"\n\
                  [relay.BACK2]\nfrom = \"node:N2\"\nto = \"node:R\"\nohms = \"10 mohm\"\nstate = \"open\"\nrating_resistive = \"4 A\"\n\
                  [initiator.I2]\nload = \"BW2\"\nall_fire = \"2.5 A\"\n[initiator.I]";
    let commands = (
        "closed = [\"relay:ARM\", \"relay:BACK\"]\non = [\"load:BW\"]",
        "closed = [\"relay:ARM\", \"relay:BACK\", \"relay:ARM2\", \"relay:BACK2\"]\non = [\"load:BW\", \"load:BW2\"]",
    );
    let (design, verdict) = firing(&[("[initiator.I]", second), commands]);
    let ohms = 0.5 * 8.01 + 0.001 * 0.5 + 0.001;
    let value = margin_of(&design, &verdict, "OR-03", "bus:A", Bound::AtLeast).value;
    assert!((value - 28.0 * ohms / (ohms + 0.1)).abs() < 2e-3, "{value}");
}

/// Two open relays stand between battery and bridge wire, one of them in the return. What bleeds 0.28 mA past the second is no way; 0.28 A is one.
#[test]
fn or_04_inhibits() {
    let (design, verdict) = firing(&[]);
    let margin = margin_of(&design, &verdict, "OR-04", "load:BW", Bound::AtLeast);
    assert_eq!((margin.value, margin.limit, margin.judged), (2.0, 2.0, 1));
    let found = |changes: &[(&str, &str)]| {
        let (_, verdict) = firing(changes);
        verdict.findings.iter().filter(|f| f.rule.0 == "OR-04").map(|f| f.text.clone()).collect::<Vec<_>>()
    };
    assert!(found(&[]).is_empty());
    let bleed = |ohms: &str| format!("[link.BLEED]\nfrom = \"node:N\"\nto = \"node:R\"\nohms = \"{ohms}\"\n[initiator.I]");
    assert!(found(&[("[initiator.I]", &bleed("100 kohm"))]).is_empty());
    assert_eq!(
        found(&[("[initiator.I]", &bleed("100 ohm"))]),
        ["no inhibit in the return of initiator I; on the way with the fewest relay:ARM in the feed"]
    );
    assert_eq!(found(&[("inhibits = 2", "inhibits = 3")]), ["initiator I: in the feed relay:ARM; in the return relay:BACK"]);
    // Armed early.
    let armed = ("[phase.idle]\nambient = \"20 degC\"", "[phase.idle]\nambient = \"20 degC\"\nclosed = [\"relay:ARM\"]");
    assert_eq!(found(&[armed]), ["initiator I: in the feed none; in the return relay:BACK"]);
    // A flight plug that is not fitted is one more; a shorting plug beside the bridge wire, which would take the current past it, is none.
    let plugs = "[connector.J1]\ncontact = \"20\"\ncavities = 2\n[connector.K1]\ncontact = \"20\"\ncavities = 2\n\
                 [flight-plug.FP]\nconnector = \"J1\"\nlinks = [[\"1\", \"2\"]]\n[shorting-plug.SP]\nconnector = \"K1\"\nlinks = [[\"1\", \"2\"]]\n\
                 [link.L1]\nfrom = \"J1.2\"\nto = \"node:M\"\nohms = \"1 mohm\"\n\
                 [link.L2]\nfrom = \"K1.1\"\nto = \"node:F\"\nohms = \"1 mohm\"\n[link.L3]\nfrom = \"K1.2\"\nto = \"node:N\"\nohms = \"1 mohm\"\n[initiator.I]";
    let through = ("from = \"bus:A\"\nto = \"node:M\"", "from = \"bus:A\"\nto = \"J1.1\"");
    let with_plugs = [("[initiator.I]", plugs), through, ("inhibits = 2", "inhibits = 4")];
    assert_eq!(found(&with_plugs), ["initiator I: in the feed plug:FP@1, relay:ARM; in the return relay:BACK"]);
    // A battery that is off is one more.
    let off = ("[phase.idle]\nambient = \"20 degC\"", "[phase.idle]\nambient = \"20 degC\"\noff = [\"battery:B\"]");
    assert!(found(&[off, ("inhibits = 2", "inhibits = 3")]).is_empty());
    assert_eq!(found(&[off, ("inhibits = 2", "inhibits = 4")]).len(), 1);
    // Beside one that is on it is none.
    let beside =
        "[battery.C]\npositive = \"bus:A\"\nnegative = \"node:R\"\nemf = \"28 V\"\nohms = \"0.1 ohm\"\nrating = \"10 A\"\n[initiator.I]";
    assert_eq!(found(&[off, ("[initiator.I]", beside), ("inhibits = 2", "inhibits = 3")]).len(), 1);
}
