//! Operating times of fuses and breakers.

use super::case::{Answer, Part, SHORT, one_module, scenario};
use crate::scenario::DeviceType;

pub fn part() -> Part {
    let mut part = Part::new("devices");
    breakers(&mut part);
    fuse_links(&mut part);
    part
}

/// A device type of these keys, with this rated current [A].
fn device(rated: u32, keys: &str) -> Option<DeviceType> {
    let bank =
        one_module("open_circuit = \"52.8 V\"", SHORT).replace("negative = 1 }", "negative = 1, device = \"d\" }");
    scenario(&format!("{bank}[device.d]\nrated = \"{rated} A\"\n{keys}\n"))?.devices.into_iter().next()
}

fn breakers(part: &mut Part) {
    let cases = [
        (
            "curve = \"very inverse\"",
            "very inverse, at twice its rating",
            "by hand: k/(M^α − 1), k = 13.5 s, α = 1 (IEC 60255-151)",
            Answer(13.5, 1e-9, "s"),
        ),
        (
            "curve = \"extremely inverse\"",
            "extremely inverse, at twice its rating",
            "by hand: k/(M^α − 1), k = 80 s, α = 2 (IEC 60255-151)",
            Answer(80.0 / 3.0, 1e-9, "s"),
        ),
        (
            "curve = \"thermal\"\ntime_constant = \"600 s\"",
            "thermal memory of 600 s, from cold, at twice its rating",
            "by hand: τ·ln(M²/(M² − 1)) = τ·ln(4/3) (IEC 60255-149)",
            Answer(172.609, 5e-4, "s"),
        ),
    ];
    for (keys, what, source, answer) in cases {
        let breaker = device(100, &format!("kind = \"breaker\"\n{keys}"));
        part.check(what, source, answer, breaker.map(|d| d.operating_time(200.0)));
    }
}

fn fuse_links(part: &mut Part) {
    for (rated, low, high) in [(100, 27.0, 86.0), (125, 46.0, 140.0), (160, 86.0, 250.0), (200, 140.0, 400.0)] {
        let amps = 50.0 * f64::from(rated);
        let melts = device(rated, "kind = \"fuse\"").map(|d| amps * amps * d.operating_time(amps) / 1e3);
        part.check(
            format!("gG fuse-link of {rated} A: I²t of a short circuit"),
            "IEC 60269-1, table 7 (read in reproductions)",
            Answer::between(low, high, "10³ A²s"),
            melts,
        );
    }
    for (rated, least, most, seconds) in
        [(100, 290.0, 580.0, 10.0), (100, 820.0, 1450.0, 0.1), (200, 610.0, 1250.0, 10.0), (200, 1910.0, 3420.0, 0.1)]
    {
        part.check(
            format!("gG fuse-link of {rated} A: current that it carries for {seconds} s"),
            "IEC 60269-1, gates of gG links, from memory",
            Answer::between(least, most, "A"),
            device(rated, "kind = \"fuse\"").map(|d| carried_for(&d, seconds)),
        );
    }
}

/// The current that a device carries for so long, found by halves: less the longer.
fn carried_for(device: &DeviceType, seconds: f64) -> f64 {
    let (mut less, mut more) = (device.rated, 100.0 * device.rated);
    for _ in 0..60 {
        let middle = 0.5 * (less + more);
        if device.operating_time(middle) > seconds { less = middle } else { more = middle }
    }
    more
}
