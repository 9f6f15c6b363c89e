//! The gains of one installation, low, likely and high, with their two sentences.

use uom::si::energy::joule;
use uom::si::f64::{Energy, Mass, MassPerEnergy, Power, Ratio, Time};
use uom::si::mass::pound;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::time::{hour, second};

use super::{capacity_freed, carbon_dioxide, interactive_factor, run_time_less};
use crate::trade::formula::CannotWorkOut;
use crate::trade::quantity::plain_number;
use crate::trade::rows;
use crate::trade::spread::Spread;

/// How a motor's watts are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownBy {
    /// Read with a wattmeter on the running motor.
    Wattmeter,
    /// Read from the nameplate or the sheet.
    Nameplate,
    /// Estimated from the kind of motor and its shaft power.
    MotorType,
}

impl KnownBy {
    /// The words of a flow, in the order of the variants.
    pub const WORDS: &'static [&'static str] = &["wattmeter", "nameplate", "motor_type"];

    /// The variant of a word of [`KnownBy::WORDS`].
    pub fn named(word: &str) -> Option<Self> {
        match word {
            "wattmeter" => Some(Self::Wattmeter),
            "nameplate" => Some(Self::Nameplate),
            "motor_type" => Some(Self::MotorType),
            _ => None,
        }
    }

    /// How it reads in a sentence.
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Wattmeter => "by wattmeter",
            Self::Nameplate => "by nameplate",
            Self::MotorType => "estimated by motor type",
        }
    }

    /// The name of the row with its spread, a ratio either way.
    pub fn row_name(self) -> &'static str {
        match self {
            Self::Wattmeter => "watts_spread_wattmeter",
            Self::Nameplate => "watts_spread_nameplate",
            Self::MotorType => "watts_spread_motor_type",
        }
    }
}

/// The electrical input of one motor and how it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Input power of one motor.
    pub watts: Power,
    /// How it is known.
    pub by: KnownBy,
}

impl Estimate {
    /// The input power with the spread of the way it is known.
    ///
    /// # Errors
    /// When the watts are negative or the row of the spread is missing.
    pub fn spread(&self) -> Result<Spread<Power>, CannotWorkOut> {
        let share = rows::row(self.by.row_name())
            .map(|row| row.si)
            .ok_or_else(|| CannotWorkOut("The row of the spread is missing.".into()))?;
        if self.watts < Power::new::<watt>(0.0) {
            return Err(CannotWorkOut("A motor's input cannot be below 0 W.".into()));
        }
        Spread::new(
            self.watts * (1.0 - share),
            self.watts,
            self.watts * (1.0 + share),
        )
    }
}

/// What was replaced by what, and under which circumstances it runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Installation {
    /// One old motor.
    pub before: Estimate,
    /// One new motor.
    pub after: Estimate,
    /// How many were replaced.
    pub motors: u32,
    /// Hours a year that the fans run.
    pub running: Spread<Time>,
    /// Coefficient of performance of the refrigeration system at its suction level.
    pub cop: Spread<Ratio>,
    /// The coil's rated capacity, if known.
    pub coil_capacity: Option<Power>,
    /// Carbon dioxide of the electricity.
    pub emission: MassPerEnergy,
}

/// What the owner pays.
#[derive(Clone, Debug, PartialEq)]
pub struct Money {
    /// Money per joule.
    pub price: f64,
    /// What the money is called: `USD`.
    pub currency: String,
    /// What the replacement cost in all, if it is to be paid back.
    pub cost: Option<f64>,
}

/// What an installation gains, each low, likely and high.
#[derive(Clone, Debug, PartialEq)]
pub struct Gains {
    /// Input watts saved by one motor.
    pub per_motor: Spread<Power>,
    /// Input watts saved by all of them, which is also the heat no longer put into the box.
    pub site: Spread<Power>,
    /// Electricity saved a year, fans and compressor.
    pub energy: Spread<Energy>,
    /// The compressor's part of it.
    pub compressor: Spread<Energy>,
    /// Carbon dioxide a year.
    pub carbon_dioxide: Spread<Mass>,
    /// Share of the coil's capacity freed for the product.
    pub freed: Option<Spread<Ratio>>,
    /// Compressor running time less, a day.
    pub run_time_less: Option<Spread<Time>>,
    /// Money a year, with what it is called.
    pub money: Option<(Spread<f64>, String)>,
    /// Simple payback time; none where it may not pay back at all.
    pub payback: Option<Spread<Time>>,
}

impl Gains {
    /// Works out the gains of `installation`, with money where the price is known.
    ///
    /// # Errors
    /// As the single formulas: an impossible COP, capacity or watts.
    pub fn of(installation: &Installation, money: Option<&Money>) -> Result<Self, CannotWorkOut> {
        let before = installation.before.spread()?;
        let after = installation.after.spread()?;
        let per_motor = before.with(&after, |old, new| old - new);
        let site = per_motor.map(|saved| saved * f64::from(installation.motors));
        for cop in [installation.cop.low(), installation.cop.high()] {
            interactive_factor(cop)?;
        }
        let direct = site.with(&installation.running, |saved, time| saved * time);
        let factor = installation
            .cop
            .map(|cop| Ratio::new::<ratio>(1.0) + cop.recip());
        let energy = direct.with(&factor, |energy, factor| energy * factor);
        let compressor = direct.with(&factor, |energy, factor| {
            energy * (factor - Ratio::new::<ratio>(1.0))
        });
        let mut gains = Self {
            per_motor,
            site,
            energy,
            compressor,
            carbon_dioxide: energy.map(|energy| carbon_dioxide(energy, installation.emission)),
            freed: None,
            run_time_less: None,
            money: None,
            payback: None,
        };
        if let Some(capacity) = installation.coil_capacity {
            gains.free(capacity, installation)?;
        }
        if let Some(money) = money {
            gains.pay(money);
        }
        Ok(gains)
    }

    fn free(&mut self, capacity: Power, it: &Installation) -> Result<(), CannotWorkOut> {
        let widest = if self.site.high().abs() > self.site.low().abs() {
            self.site.high()
        } else {
            self.site.low()
        };
        capacity_freed(widest, capacity)?;
        let day = it.running.likely() / 365.0;
        run_time_less(widest, capacity, day)?;
        let freed = self.site.map(|heat| heat / capacity);
        self.run_time_less = Some(freed.map(|share| day * share));
        self.freed = Some(freed);
        Ok(())
    }

    fn pay(&mut self, money: &Money) {
        let yearly = self
            .energy
            .map(|energy| energy.get::<joule>() * money.price);
        if let Some(cost) = money.cost
            && yearly.low() > 0.0
        {
            self.payback =
                Some(yearly.map(|yearly| Time::new::<second>(cost / yearly * 365.0 * 86_400.0)));
        }
        self.money = Some((yearly, money.currency.clone()));
    }

    /// One plain sentence for the owner.
    pub fn owner_sentence(&self) -> String {
        let site = self.site.map(|power| power.get::<watt>());
        if site.high() <= 0.0 {
            return format!(
                "The new fans draw about {} W more than the old ones, so nothing is saved.",
                rounded(-site.likely())
            );
        }
        if site.low() <= 0.0 {
            return "It cannot be said yet whether the new fans save anything; measure the watts \
                    with a wattmeter."
                .into();
        }
        let energy = self.energy.map(|energy| energy.get::<joule>() / 3.6e6);
        let mut text = format!(
            "The new fans draw about {} W less and put that much less heat into the box, which \
             saves about {} kWh a year",
            rounded(site.likely()),
            range(energy)
        );
        if let Some((money, currency)) = &self.money {
            text.push_str(&format!(
                ", about {} {currency} a year",
                rounded(money.likely())
            ));
        }
        if let Some(payback) = self.payback {
            let years = payback.likely().get::<second>() / (365.0 * 86_400.0);
            text.push_str(&format!(
                "; it pays for itself in about {}",
                years_words(years)
            ));
        }
        text.push('.');
        text
    }

    /// One sentence for the supervisor: how each number came about.
    pub fn supervisor_sentence(&self, it: &Installation) -> String {
        let per_motor = self.per_motor.map(|power| power.get::<watt>());
        let cop = it.cop.map(|cop| cop.get::<ratio>());
        let carbon = self.carbon_dioxide.map(|mass| mass.get::<pound>());
        let mut text = format!(
            "{} W saved by each of {} {} (before {}, after {}), {} h a year, COP {}, {} lb of \
             carbon dioxide a year",
            range(per_motor),
            it.motors,
            if it.motors == 1 { "motor" } else { "motors" },
            it.before.by.phrase(),
            it.after.by.phrase(),
            rounded(it.running.likely().get::<hour>()),
            range(cop),
            range(carbon),
        );
        if let (Some(freed), Some(less)) = (self.freed, self.run_time_less) {
            text.push_str(&format!(
                ", {}% of the coil's capacity freed, {} min a day less compressor time",
                range(freed.map(|share| share.get::<ratio>() * 100.0)),
                range(less.map(|time| time.get::<second>() / 60.0)),
            ));
        }
        text.push('.');
        text
    }
}

/// A likely value with its range: `2010 (1650 to 2400)`; a value known exactly stands alone.
fn range(spread: Spread<f64>) -> String {
    let (low, likely, high) = (
        rounded(spread.low()),
        rounded(spread.likely()),
        rounded(spread.high()),
    );
    if low == high {
        likely
    } else {
        format!("{likely} ({low} to {high})")
    }
}

/// Three significant digits: nobody knows these numbers better.
fn rounded(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return plain_number(value);
    }
    let scale = 10f64.powi(2 - value.abs().log10().floor() as i32);
    plain_number((value * scale).round() / scale)
}

fn years_words(years: f64) -> String {
    if years < 2.0 {
        let months = (years * 12.0).ceil().max(1.0);
        let word = if months > 1.0 { "months" } else { "month" };
        format!("{months} {word}")
    } else {
        format!("{} years", plain_number((years * 10.0).round() / 10.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::mass_per_energy::kilogram_per_joule;

    fn installation(before: f64, after: f64) -> Installation {
        Installation {
            before: Estimate {
                watts: Power::new::<watt>(before),
                by: KnownBy::Wattmeter,
            },
            after: Estimate {
                watts: Power::new::<watt>(after),
                by: KnownBy::Nameplate,
            },
            motors: 2,
            running: Spread::exactly(Time::new::<hour>(8760.0)),
            cop: Spread::exactly(Ratio::new::<ratio>(3.634)),
            coil_capacity: Some(Power::new::<watt>(3500.0)),
            emission: MassPerEnergy::new::<kilogram_per_joule>(0.39 / 3.6e6),
        }
    }

    fn money() -> Money {
        Money {
            price: 0.13 / 3.6e6,
            currency: "USD".into(),
            cost: Some(400.0),
        }
    }

    #[test]
    fn the_owner_reads_watts_energy_money_and_payback_in_one_sentence() {
        let gains = Gains::of(&installation(135.0, 45.0), Some(&money())).unwrap();
        assert_eq!(
            gains.owner_sentence(),
            "The new fans draw about 180 W less and put that much less heat into the box, which \
             saves about 2010 (1720 to 2300) kWh a year, about 261 USD a year; it pays for itself \
             in about 19 months."
        );
    }

    #[test]
    fn the_supervisor_reads_how_each_number_is_known() {
        let it = installation(135.0, 45.0);
        let gains = Gains::of(&it, None).unwrap();
        assert_eq!(
            gains.supervisor_sentence(&it),
            "90 (76.9 to 103) W saved by each of 2 motors (before by wattmeter, after by \
             nameplate), 8760 h a year, COP 3.63, 1730 (1480 to 1980) lb of carbon dioxide a \
             year, 5.14 (4.4 to 5.89)% of the coil's capacity freed, 74.1 (63.3 to 84.8) min a \
             day less compressor time."
        );
    }

    #[test]
    fn the_likely_energy_is_the_plain_formulas_own() {
        let it = installation(135.0, 45.0);
        let gains = Gains::of(&it, None).unwrap();
        let plain = crate::trade::gains::energy_saved(
            crate::trade::gains::watts_saved(it.before.watts, it.after.watts, it.motors),
            it.running.likely(),
            it.cop.likely(),
        );
        let difference = gains.energy.likely() - plain.unwrap();
        assert!(difference.get::<joule>().abs() < 1.0);
    }

    #[test]
    fn a_new_motor_that_draws_more_is_said_so() {
        let gains = Gains::of(&installation(40.0, 90.0), Some(&money())).unwrap();
        assert!(
            gains.owner_sentence().contains("100 W more"),
            "{}",
            gains.owner_sentence()
        );
        assert_eq!(gains.payback, None);
    }

    #[test]
    fn a_difference_within_the_spread_is_not_called_a_saving() {
        let gains = Gains::of(&installation(50.0, 48.0), None).unwrap();
        assert!(gains.owner_sentence().starts_with("It cannot be said yet"));
    }
}
