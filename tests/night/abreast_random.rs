//! Random banks under random duress: trials abreast give what each gives alone, to the last bit, whatever happens.

use super::abreast::compare;
use super::*;
use bankwright::engine::trial::Nobody;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write;

const SCENARIOS: u64 = 120;
const TRIALS: u64 = 17;

/// A scenario's text, drawn piece by piece.
struct Draft {
    rng: ChaCha8Rng,
    text: String,
}

impl Draft {
    fn chance(&mut self, p: f64) -> bool {
        self.rng.random::<f64>() < p
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.rng.random::<f64>()
    }

    fn one_of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.rng.random_range(0..words.len())]
    }

    fn say(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// A line, now and then.
    fn maybe(&mut self, p: f64, line: &str) {
        if self.chance(p) {
            self.say(line);
        }
    }

    fn module(&mut self) {
        let (capacity, ohm) = (self.between(2.0, 120.0), self.between(8.0, 25.0));
        self.say("[module.m]\ncells = 16");
        let _ = writeln!(self.text, "capacity = \"{capacity:.1} Ah\"\nresistance = \"{ohm:.2} mΩ\"");
        let curve = self.one_of(&[
            "\"lfp\"",
            "\"52.8 V\"",
            "[[\"0 %\", \"3.0 V\"], [\"60 %\", \"3.3 V\"], [\"100 %\", \"3.4 V\"]]",
        ]);
        let _ = writeln!(self.text, "open_circuit = {curve}");
        self.maybe(0.5, "activation_energy = \"20 kJ/mol\"");
        self.maybe(0.5, "charge_factor = [[\"0 %\", 1.8], [\"30 %\", 1.0], [\"100 %\", 1.1]]");
        self.maybe(0.8, "discharge_limit = \"60 A\"");
        self.maybe(0.6, "charge_limit = \"30 A\"");
        self.maybe(0.5, "standing = \"5 W\"");
        self.maybe(0.5, "switch_drop = \"0.1 V\"");
        self.maybe(0.3, "switches = \"contactor\"");
        self.maybe(0.4, "empty = \"5 %\"");
        self.maybe(0.5, "charge_temperature = { low = \"2 °C\", low_release = \"4 °C\", delay = \"5 s\" }");
        self.maybe(0.5, "discharge_temperature = { low = \"-3 °C\", low_release = \"1 °C\", high = \"45 °C\", high_release = \"40 °C\", delay = \"5 s\" }");
        self.maybe(0.4, "cell_voltage = { low = \"2.7 V\", low_release = \"3.1 V\", high = \"3.6 V\", high_release = \"3.4 V\", delay = \"1 s\" }");
        if self.chance(0.5) {
            self.say(
                "over_current = [{ discharge = \"75 A\", delay = \"3 s\" }, { charge = \"45 A\", delay = \"2 s\" }]",
            );
            self.maybe(0.6, "retries = 2\nretry_after = \"45 s\"");
        }
        self.maybe(0.4, "rejoin_wait = \"20 s\"");
        self.maybe(0.3, "rejoin_difference = \"0.8 V\"\npre_charge = \"2 s\"");
        if self.chance(0.6) {
            let to_air = self.one_of(&["0 W/K", "2 W/K", "5 W/K"]);
            let _ = writeln!(self.text, "heat_capacity = \"20 kJ/K\"\nheat_to_air = \"{to_air}\"");
            self.maybe(0.6, "heat_to_floor = \"4 W/K\"\nheat_to_neighbour = \"6 W/K\"");
            self.maybe(0.3, "heater = { power = \"80 W\", on = \"1 °C\", off = \"5 °C\" }");
        }
        self.maybe(0.1, "self_limit = { discharge = \"50 A\" }");
    }

    fn devices_and_cables(&mut self) {
        let curve = self.one_of(&[
            "",
            "curve = \"very inverse\"",
            "curve = \"thermal\"\ntime_constant = \"5 min\"",
            "curve = [[1.2, \"10 min\"], [3, \"5 s\"]]",
        ]);
        let rated = self.between(25.0, 150.0);
        let _ = writeln!(
            self.text,
            "[device.d]\nkind = \"fuse\"\nrated = \"{rated:.0} A\"\nresistance = \"0.2 mΩ\"\n{curve}"
        );
        self.say("[cable.j]\nresistance = \"0.4 mΩ\"\nrating = \"90 A\"");
        self.say("[cable.l]\nsize = \"25 mm2\"\nlength = \"2 m\"\ncontact = \"0.1 mΩ\"");
        self.maybe(0.6, "rating = \"110 A\"");
        let ampacity = self.between(30.0, 140.0);
        let line = format!("insulation = \"70 °C\"\nampacity = \"{ampacity:.0} A\"\ntime_constant = \"4 min\"");
        self.maybe(0.6, &line);
    }

    fn stacks(&mut self) {
        for name in &["A", "B", "C"][..self.rng.random_range(1..=3)] {
            let count = self.rng.random_range(1..=4);
            let device = if self.chance(0.4) { ", device = \"d\", poles = \"both\"" } else { "" };
            let _ = writeln!(
                self.text,
                "[[stack]]\nname = \"{name}\"\nmodule = \"m\"\ncount = {count}\nleads = [{{ cable = \"l\", positive = {count}, negative = 1{device} }}]"
            );
            if count > 1 {
                self.say("jumper = \"j\"");
            }
            self.maybe(0.2, "module_device = \"d\"");
        }
        self.maybe(0.2, "[bar]\ndevice = \"d\"");
    }

    fn around(&mut self) {
        let air = self.between(-6.0, 12.0);
        let _ = writeln!(self.text, "[climate]\nair = \"{air:.1} °C\"");
        self.maybe(
            0.4,
            "[room]\nloss = \"30 W/K\"\ngain = \"100 W\"\nheat_capacity = \"200 kJ/K\"\ngradient = \"1 K/m\"",
        );
        if self.chance(0.6) {
            self.say("[inverter]\nrated = \"6 kW\"\nefficiency = \"93 %\"\nstanding = \"20 W\"\nripple = \"30 %\"");
            self.maybe(0.7, "cut_out = \"47 V\"\nreconnect = \"50 V\"\nreconnect_delay = \"40 s\"");
        }
        if self.chance(0.5) {
            let lost = self.one_of(&["stop", "hold", "default"]);
            let _ = writeln!(
                self.text,
                "[controller]\nperiod = \"2 s\"\ndelay = \"0.3 s\"\nreaction = \"1.1 s\"\nlost_link = \"{lost}\""
            );
            self.maybe(0.5, "link_mtbf = \"2 h\"\nlink_mttr = \"3 min\"");
            self.maybe(0.3, "discharge_by_temperature = [[\"0 °C\", \"50 %\"], [\"4 °C\", \"100 %\"]]");
        }
    }

    fn load_and_chance(&mut self, folder: &Path) {
        let modules = self.text.matches("[[stack]]").count() as f64 * 2.5;
        let amps = self.between(-15.0, 45.0) * modules;
        match self.rng.random_range(0..3) {
            0 => {
                let _ = writeln!(self.text, "[load]\ncurrent = \"{amps:.1} A\"");
                self.maybe(0.4, "[[surge]]\nname = \"s\"\ncurrent = \"60 A\"\nlasts = \"4 s\"\nevery = \"20 min\"");
            }
            1 => {
                let _ = writeln!(self.text, "[load]\npower = \"{:.0} W\"", amps * 50.0);
                self.maybe(0.4, "[[surge]]\nname = \"s\"\npower = \"3 kW\"\nlasts = \"4 s\"\nevery = \"20 min\"");
            }
            _ => {
                let mut profile = "hours,power\n".to_owned();
                let minutes = self.one_of(&["5", "7", "10"]).parse::<f64>().unwrap();
                for k in 0..40 {
                    let watts = self.between(-700.0, 2200.0) * modules;
                    let _ = writeln!(profile, "{},{watts:.0}", f64::from(k) * minutes / 60.0);
                }
                std::fs::write(folder.join("load.csv"), profile).unwrap();
                self.say("[load]\nprofile = \"load.csv\"");
            }
        }
        self.say("[faults]\nmodule_mtbf = \"6 h\"\nmodule_mttr = \"15 min\"");
        self.maybe(0.4, "stack_mtbf = \"20 h\"\nstack_mttr = \"10 min\"");
        self.maybe(0.4, "nuisance_mtbf = \"10 h\"\nnuisance_mttr = \"3 min\"");
        self.maybe(0.4, "chain_mtbf = \"15 h\"\nchain_mttr = \"5 min\"\nchain = \"bank\"");
        self.maybe(0.4, "joint_mtbf = \"10 h\"\njoint_mttr = \"1 h\"\nlead_mtbf = \"12 h\"\nlead_mttr = \"20 min\"");
        self.say("[spread]\ncapacity = \"3 %\"\nresistance = \"5 %\"\njoint = \"10 %\"\nstart_charge = \"3 %\"\nload = \"5 %\"\ntemperature = \"2 K\"\nsensor = \"1 K\"");
        let (step, soc) = (self.one_of(&["60 s", "20 s", "7 s"]), self.between(20.0, 100.0));
        let _ = writeln!(
            self.text,
            "[trials]\ncount = 100\nhorizon = \"100.3 min\"\nstep = \"{step}\"\nsoc = \"{soc:.0} %\""
        );
    }
}

fn draft(seed: u64, folder: &Path) -> String {
    let mut draft = Draft { rng: ChaCha8Rng::seed_from_u64(seed), text: String::new() };
    draft.module();
    draft.devices_and_cables();
    draft.stacks();
    draft.around();
    draft.load_and_chance(folder);
    draft.text
}

/// How many trials saw each kind of thing.
fn census(campaign: &Campaign, seen: &mut [(&'static str, u32)]) {
    for trial in 0..TRIALS {
        let Ok(r) = trial::run(&campaign.model, &campaign.realization(trial), &mut Nobody) else { continue };
        let happened = [
            r.any_opened(),
            r.any_hot(),
            r.any_over(),
            r.dropout.cold,
            r.dropout.fault,
            r.dropout.other,
            r.cascade.is_some(),
            r.blackout.is_some(),
            r.rejoined.is_some(),
            r.unserved > 0.0,
            r.brief > 0.0,
            r.curtailed > 0.0,
        ];
        for ((_, count), happened) in seen.iter_mut().zip(happened) {
            *count += u32::from(happened);
        }
    }
}

#[test]
fn random_banks_ride_as_they_walk() {
    let folder = tempfile::tempdir().unwrap();
    let kinds = [
        "opened",
        "hot",
        "over",
        "cold",
        "fault",
        "other",
        "cascade",
        "dark",
        "rejoined",
        "unserved",
        "brief",
        "curtailed",
    ];
    let mut seen = kinds.map(|kind| (kind, 0));
    for seed in 0..SCENARIOS {
        let text = draft(seed, folder.path());
        let campaign = campaign_in(&[&text], folder.path());
        compare(&campaign, &format!("scenario {seed}\n{text}"), 0..TRIALS);
        census(&campaign, &mut seen);
    }
    println!("{seen:?}");
    assert!(seen.iter().all(|(_, count)| *count > 20), "not all of it happens: {seen:?}");
}
