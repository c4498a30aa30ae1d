//! The nights that a trial may draw, by what the profiles cover.
//!
//! In: the profiles, the clock time at which a night starts, its length, the season. Out: every night that a trial may
//! draw, ordered by its start in the weather and then by its start in the load. A seed refers to a night by its place in
//! this order.
//!
//! With a `start`, each calendar day of the weather gives a night if the day lies in the season and the weather covers the
//! horizon from that clock time on. The load of the same date goes with it where there is one. Otherwise the load of the
//! same month and day goes with it, and each year of the load gives a night of its own (28 February in place of 29 February
//! where the load's year has none). Where the weather has no dates, the days are those of the load. A profile by `hours`
//! begins again with every night. A constant always covers it.
//!
//! Without a `start`, or where no profile has dates, there is one night. It begins where the profile with dates begins, or
//! where the last of several does.

use super::calendar::{DAY, clock_time, date, length, midnight, moment};
use super::series::Series;
use super::types::{Clock, Night};
use crate::bounds;
use crate::time::Time;
use jiff::civil::Date;

/// What nights are made of. Where a profile is `None`, a constant takes its place.
#[derive(Clone, Debug)]
pub struct Wanted<'a> {
    /// Power of the load [W].
    pub load: Option<&'a Series>,
    /// Outdoor air [°C].
    pub air: Option<&'a Series>,
    /// Floor [°C].
    pub floor: Option<&'a Series>,
    /// Clock time at which a night starts [s after midnight]; `None`: there is one night, from where the profile starts.
    pub start: Option<i64>,
    /// Length of a night.
    pub horizon: Time,
    /// First and last (month, day) on which a night may start; may wrap around the new year.
    pub season: Option<((i8, i8), (i8, i8))>,
}

/// Why there is no night.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoNights {
    /// There is a season, and no profile with dates.
    #[error("`season` needs a profile with dates, and none has a `time` column")]
    SeasonWithoutDates,
    /// A profile by `hours` does not reach from 0 to the horizon.
    #[error("the {profile} profile covers {covered}, the horizon is {horizon}")]
    Short {
        /// `load`, `air` or `floor`.
        profile: &'static str,
        /// From when to when it has values.
        covered: String,
        /// Length of a night.
        horizon: String,
    },
    /// Without `start`: the one night is not covered.
    #[error("the night of {horizon} from {from}, where the profile starts, is not covered by {by}")]
    NotFromItsStart {
        /// Date and time at which the night would begin.
        from: String,
        /// Length of a night.
        horizon: String,
        /// The profiles with dates, in words.
        by: String,
        /// From when to when each has values, a line each.
        extents: Vec<String>,
    },
    /// Without `start`: the one night begins outside the season.
    #[error("the profile starts on {0}, outside the season")]
    OutOfSeason(String),
    /// More nights than the program takes.
    #[error("the profiles make more than {} different nights", bounds::grouped(bounds::NIGHTS as u64))]
    TooMany,
    /// With `start`: no day of the season is covered for the whole horizon.
    #[error("no night of {horizon} from {start}{season} is covered by {by}")]
    NoneCovered {
        /// Length of a night.
        horizon: String,
        /// Clock time at which a night starts.
        start: String,
        /// The season in words, or empty.
        season: String,
        /// The profiles with dates, in words.
        by: String,
        /// From when to when each has values, a line each.
        extents: Vec<String>,
    },
}

impl NoNights {
    /// How to correct the scenario.
    pub fn help(&self) -> String {
        match self {
            NoNights::SeasonWithoutDates => "leave `season` out, or give weather with dates".to_owned(),
            NoNights::Short { .. } => "lengthen the profile, or shorten `horizon`".to_owned(),
            NoNights::TooMany => {
                "give load and weather of the same years, or `season`: each day of the weather goes with the same day of \
                 every year of a load of other years"
                    .to_owned()
            }
            NoNights::OutOfSeason(_) => "give `start`, so that nights are drawn from the season".to_owned(),
            NoNights::NotFromItsStart { extents, .. } | NoNights::NoneCovered { extents, .. } => extents.join("; "),
        }
    }
}

/// All nights, at least one.
///
/// # Errors
/// Why there is none.
pub fn list(wanted: &Wanted) -> Result<Vec<Night>, NoNights> {
    let Some(leader) = wanted.leader() else {
        return wanted.without_dates();
    };
    wanted.check_by_hours()?;
    match wanted.start {
        Some(start) => wanted.drawn(leader, start),
        None => wanted.single(),
    }
}

impl<'a> Wanted<'a> {
    /// The profiles that the scenario has, each with its name.
    fn profiles(&self) -> impl Iterator<Item = (&'static str, &'a Series)> {
        let named = [("load", self.load), ("air", self.air), ("floor", self.floor)];
        named.into_iter().filter_map(|(name, series)| series.map(|series| (name, series)))
    }

    fn calendars(&self) -> impl Iterator<Item = (&'static str, &'a Series)> {
        self.profiles().filter(|(_, series)| series.clock() == Clock::Local)
    }

    /// The series of the weather with dates, whose days are counted as nights.
    fn weather(&self) -> Option<&'a Series> {
        [self.air, self.floor].into_iter().flatten().find(|series| series.clock() == Clock::Local)
    }

    fn load_calendar(&self) -> Option<&'a Series> {
        self.load.filter(|load| load.clock() == Clock::Local)
    }

    /// The series whose days are the nights.
    fn leader(&self) -> Option<&'a Series> {
        self.weather().or(self.load_calendar())
    }

    /// Whole seconds that a night needs.
    fn seconds(&self) -> i64 {
        self.horizon.0.max(0).div_euclid(1_000_000) + i64::from(self.horizon.0 % 1_000_000 > 0)
    }

    fn horizon_text(&self) -> String {
        length(self.seconds())
    }

    /// The one night where no profile has dates. A `start` only says which clock time hour 0 is; a season is refused.
    fn without_dates(&self) -> Result<Vec<Night>, NoNights> {
        if self.season.is_some() {
            return Err(NoNights::SeasonWithoutDates);
        }
        self.check_by_hours()?;
        Ok(vec![Night { air_start: 0, load_start: 0, date: String::new(), year: String::new() }])
    }

    /// Checks that each profile by `hours`, which begins again with every night, reaches to the horizon.
    fn check_by_hours(&self) -> Result<(), NoNights> {
        for (profile, series) in self.profiles().filter(|(_, series)| series.clock() == Clock::Elapsed) {
            if !series.covers(0, self.seconds()) {
                return Err(NoNights::Short { profile, covered: extent(series), horizon: self.horizon_text() });
            }
        }
        Ok(())
    }

    /// Whether all series of the weather with dates cover a night that starts at `from`.
    fn weather_covers(&self, from: i64) -> bool {
        let weather = [self.air, self.floor].into_iter().flatten();
        let mut calendars = weather.filter(|series| series.clock() == Clock::Local);
        calendars.all(|series| series.covers(from, from.saturating_add(self.seconds())))
    }

    fn in_season(&self, day: Date) -> bool {
        let today = (day.month(), day.day());
        self.season.is_none_or(|(first, last)| match first <= last {
            true => first <= today && today <= last,
            false => first <= today || today <= last,
        })
    }

    /// The one night where there is no `start`.
    fn single(&self) -> Result<Vec<Night>, NoNights> {
        let from = self.calendars().map(|(_, series)| series.first()).max().unwrap_or(0);
        let to = from.saturating_add(self.seconds());
        if !self.calendars().all(|(_, series)| series.covers(from, to)) {
            let (horizon, from) = (self.horizon_text(), moment(from));
            return Err(NoNights::NotFromItsStart { from, horizon, by: self.names(), extents: self.extents() });
        }
        if !self.in_season(date(from)) {
            return Err(NoNights::OutOfSeason(date(from).to_string()));
        }
        Ok(vec![self.night(from, self.load_calendar().map_or(0, |_| from))])
    }

    /// One or more nights for each day of `leader`, the series whose days are the nights.
    fn drawn(&self, leader: &Series, start: i64) -> Result<Vec<Night>, NoNights> {
        let days = leader.first().div_euclid(DAY)..=leader.end().div_euclid(DAY);
        let starts = days.map(|day| day.saturating_mul(DAY).saturating_add(start));
        let fit = starts.filter(|&from| self.in_season(date(from)) && self.weather_covers(from));
        let all = fit.flat_map(|from| self.loads(from, start).into_iter().map(move |load| self.night(from, load)));
        let mut nights: Vec<Night> = all.take(bounds::NIGHTS + 1).collect();
        if nights.len() > bounds::NIGHTS {
            return Err(NoNights::TooMany);
        }
        nights.sort_by_key(|night| (night.air_start, night.load_start));
        if nights.is_empty() { Err(self.none_covered(start)) } else { Ok(nights) }
    }

    /// Where the load's series may start for a night that starts at `from` in the weather.
    fn loads(&self, from: i64, start: i64) -> Vec<i64> {
        let Some(load) = self.load_calendar() else {
            return vec![0];
        };
        let covered = |at: i64| load.covers(at, at.saturating_add(self.seconds()));
        if covered(from) {
            return vec![from];
        }
        if self.weather().is_none() {
            return Vec::new();
        }
        let day = date(from);
        let years = date(load.first()).year()..=date(load.end()).year();
        years.filter_map(|year| same_day(year, day).map(|at| at + start)).filter(|&at| covered(at)).collect()
    }

    /// A night that starts at `from` on the calendar.
    fn night(&self, from: i64, load_start: i64) -> Night {
        let day = date(from);
        let year = match self.season {
            Some((first, last)) if first > last => winter(day, first),
            _ => day.year().to_string(),
        };
        Night { air_start: self.weather().map_or(0, |_| from), load_start, date: day.to_string(), year }
    }

    fn none_covered(&self, start: i64) -> NoNights {
        let season = self
            .season
            .map_or(String::new(), |((m1, d1), (m2, d2))| format!(" between {m1:02}-{d1:02} and {m2:02}-{d2:02}"));
        let (horizon, start) = (self.horizon_text(), clock_time(start));
        NoNights::NoneCovered { horizon, start, season, by: self.names(), extents: self.extents() }
    }

    /// `the load profile`, `both profiles` or `all profiles`: those with dates.
    fn names(&self) -> String {
        let names: Vec<&str> = self.calendars().map(|(name, _)| name).collect();
        match names[..] {
            [name] => format!("the {name} profile"),
            [_, _] => "both profiles".to_owned(),
            _ => "all profiles".to_owned(),
        }
    }

    fn extents(&self) -> Vec<String> {
        self.calendars().map(|(name, series)| format!("the {name} profile covers {}", extent(series))).collect()
    }
}

/// What a series covers: `4 h`, or `2018-01-01 00:00 to 2019-01-01 00:00 but for 3 holes`.
fn extent(series: &Series) -> String {
    let whole = match (series.clock(), series.first()) {
        (Clock::Elapsed, 0) => length(series.end()),
        (Clock::Elapsed, first) => format!("{} to {}", length(first), length(series.end())),
        (Clock::Local, first) => format!("{} to {}", moment(first), moment(series.end())),
    };
    match series.holes() {
        [] => whole,
        [hole] => format!("{whole} but for a hole of {}", length(hole.1 - hole.0)),
        holes => format!("{whole} but for {} holes", holes.len()),
    }
}

/// Midnight of the same month and day in another year; 28 February where there is no 29th.
fn same_day(year: i16, day: Date) -> Option<i64> {
    let (year, month, number) = (i64::from(year), i64::from(day.month()), i64::from(day.day()));
    let leap = (month, number) == (2, 29);
    midnight(year, month, number).or_else(|| if leap { midnight(year, 2, 28) } else { None })
}

/// The winter that a day is counted in: `2018/19`, from the season's first day on.
fn winter(day: Date, first: (i8, i8)) -> String {
    let begun = (day.month(), day.day()) >= first;
    let year = if begun { day.year() } else { day.year() - 1 };
    format!("{year}/{:02}", (year + 1).rem_euclid(100))
}
