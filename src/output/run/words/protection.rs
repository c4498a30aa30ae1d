//! What the results say of heat in conductors and of protective devices.

use crate::output::kit::number;
use crate::output::kit::words::listed;
use crate::summary::{DeviceOpened, DeviceResult, HotConductor, OverTemperature, Results, Verdict};

/// Names in a line that tells of several devices.
const NAMED: usize = 3;

/// Why a device is no protection against a short beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shortcoming {
    CapacityNotStated,
    CapacityTooSmall,
    VoltageNotStated,
    VoltageTooLow,
    NeverOpens,
    /// Its conductor does not stand the fault until it opens.
    ConductorFails,
}

const SHORTCOMINGS: [Shortcoming; 6] = [
    Shortcoming::CapacityNotStated,
    Shortcoming::CapacityTooSmall,
    Shortcoming::VoltageNotStated,
    Shortcoming::VoltageTooLow,
    Shortcoming::NeverOpens,
    Shortcoming::ConductorFails,
];

impl Shortcoming {
    fn words(self) -> &'static str {
        match self {
            Shortcoming::CapacityNotStated => "breaking capacity not stated",
            Shortcoming::CapacityTooSmall => "breaking capacity too small",
            Shortcoming::VoltageNotStated => "direct voltage not stated",
            Shortcoming::VoltageTooLow => "direct voltage too low",
            Shortcoming::NeverOpens => "never opens at its prospective current",
            Shortcoming::ConductorFails => "conductor does not stand the fault until it opens",
        }
    }

    fn is_of(self, device: &DeviceResult, highest_v: f64) -> bool {
        let short_of = |most: Option<f64>, least: f64| most.is_some_and(|most| !suffices(most, least));
        let opens = device.opens_after_s;
        match self {
            Shortcoming::CapacityNotStated => device.breaking_capacity_a.is_none(),
            Shortcoming::CapacityTooSmall => short_of(device.breaking_capacity_a, device.prospective_a),
            Shortcoming::VoltageNotStated => device.voltage_v.is_none(),
            Shortcoming::VoltageTooLow => short_of(device.voltage_v, highest_v),
            Shortcoming::NeverOpens => opens.is_none(),
            Shortcoming::ConductorFails => opens.is_some_and(|after| short_of(device.conductor_stands_s, after)),
        }
    }

    /// How far a device that has it is from what is needed: the greater, the worse.
    fn severity(self, device: &DeviceResult) -> f64 {
        let against = |least: f64, most: Option<f64>| most.map_or(f64::INFINITY, |most| least / most);
        match self {
            Shortcoming::CapacityNotStated | Shortcoming::NeverOpens => device.prospective_a,
            Shortcoming::CapacityTooSmall => against(device.prospective_a, device.breaking_capacity_a),
            Shortcoming::VoltageNotStated => 0.0,
            Shortcoming::VoltageTooLow => against(1.0, device.voltage_v),
            Shortcoming::ConductorFails => {
                against(device.opens_after_s.unwrap_or(f64::INFINITY), device.conductor_stands_s)
            }
        }
    }

    /// The numbers that show it.
    fn evidence(self, device: &DeviceResult, highest_v: f64) -> String {
        let fault = number::fault_current(number::rounded_up(device.prospective_a));
        let highest = number::voltage(number::rounded_up(highest_v));
        let stated = |x: Option<f64>, show: fn(f64) -> String| x.map_or(number::NONE.to_string(), show);
        match self {
            Shortcoming::CapacityNotStated | Shortcoming::NeverOpens => {
                format!("a short drives up to {fault} through it")
            }
            Shortcoming::CapacityTooSmall => {
                format!("{} for {fault}", stated(device.breaking_capacity_a, number::fault_current))
            }
            Shortcoming::VoltageNotStated => format!("a full module has {highest}"),
            Shortcoming::VoltageTooLow => format!("{} for {highest}", stated(device.voltage_v, number::voltage)),
            Shortcoming::ConductorFails => {
                let stands = stated(device.conductor_stands_s, number::seconds);
                format!("{stands} for {}", stated(device.opens_after_s, number::seconds))
            }
        }
    }

    /// One line for all devices that have it, the worst first; `None` where none has.
    fn line(self, opened: &DeviceOpened) -> Option<String> {
        let mut found: Vec<&DeviceResult> = opened.devices.iter().filter(|d| self.is_of(d, opened.highest_v)).collect();
        found.sort_by(|a, b| self.severity(b).total_cmp(&self.severity(a)));
        let evidence = self.evidence(found.first()?, opened.highest_v);
        let compared = !matches!(self, Shortcoming::CapacityNotStated | Shortcoming::VoltageNotStated);
        let at_worst = if compared && found.len() > 1 { " at worst" } else { "" };
        Some(format!("{}: {} ({evidence}{at_worst})", self.words(), named(&found)))
    }
}

/// Whether a value is enough; what is not a number is never enough.
fn suffices(most: f64, least: f64) -> bool {
    most >= least
}

/// Whether a device can clear a short beside it, and why not.
pub fn device_verdict(device: &DeviceResult, highest_v: f64) -> (Verdict, String) {
    let found: Vec<&str> =
        SHORTCOMINGS.into_iter().filter(|s| s.is_of(device, highest_v)).map(Shortcoming::words).collect();
    match (found.as_slice(), device.conductor_stands_s) {
        ([], Some(_)) => (Verdict::Met, "suffices".into()),
        ([], None) => (Verdict::NotDecided, "breaks it; conductor not known".into()),
        (found, _) => (Verdict::Missed, found.join("; ")),
    }
}

/// Every shortcoming of a device, one line for all devices that share it.
pub fn device_faults(results: &Results) -> Vec<String> {
    let Some(opened) = &results.device_opened else { return Vec::new() };
    SHORTCOMINGS.into_iter().filter_map(|s| s.line(opened)).collect()
}

/// `A1.fuse, A2.fuse, A3.fuse and 5 more`
fn named(devices: &[&DeviceResult]) -> String {
    let mut names: Vec<String> = devices.iter().take(NAMED).map(|d| d.id.clone()).collect();
    let more = devices.len().saturating_sub(NAMED);
    if more > 0 {
        names.push(format!("{} more", number::count(more as u64)));
    }
    listed(&names)
}

/// Devices, those that opened most often first; equals in the order of the results.
pub fn devices(opened: &DeviceOpened) -> Vec<&DeviceResult> {
    let mut all: Vec<_> = opened.devices.iter().collect();
    all.sort_by_key(|d| std::cmp::Reverse(d.nights));
    all
}

/// `opened in 1.2 % of nights (0.9–1.5 %), most often A1.fuse: 0.9 % (0.7–1.2 %)`; `None` where there is no device.
pub fn devices_opened(results: &Results) -> Option<String> {
    let opened = results.device_opened.as_ref()?;
    let often = devices(opened)
        .first()
        .filter(|d| d.nights > 0)
        .map_or_else(String::new, |d| format!(", most often {}: {}", d.id, number::frequency_short(&d.chance)));
    Some(format!("opened in {}{often}", number::of_nights(&opened.any, results.trials)))
}

/// Conductors with insulation data: most often over temperature first, then the one nearest to what it stands.
pub fn hot_conductors(over: &OverTemperature) -> Vec<&HotConductor> {
    let beyond = |c: &HotConductor| c.hottest_c - c.stands_c;
    let mut all: Vec<_> = over.conductors.iter().collect();
    all.sort_by(|a, b| b.nights.cmp(&a.nights).then(beyond(b).total_cmp(&beyond(a))));
    all
}

/// `over temperature in 0.3 % of nights (…); worst A.lead1+: peaked at 94.3 °C (rated 90 °C)`; `None` where no
/// conductor has insulation data.
pub fn over_temperature(results: &Results) -> Option<String> {
    let over = results.over_temperature.as_ref()?;
    let worst = hot_conductors(over).first().map_or_else(String::new, |c| {
        format!("; worst {}: peaked at {} (rated {})", c.id, number::celsius(c.hottest_c), number::celsius(c.stands_c))
    });
    Some(format!("over temperature in {}{worst}", number::of_nights(&over.any, results.trials)))
}

/// Shortfalls that end within the hold time end no night; what they leave out, where it is anything.
pub fn brief_shortfalls(results: &Results) -> Option<String> {
    let mean = results.unserved_wh.brief_mean;
    (mean > 0.0).then(|| {
        let hold = number::duration(results.hold_s / 3600.0);
        format!("Dips of up to {hold} cost {} a night on average; they end no night", number::energy(mean))
    })
}
