//! Where an evaporator is, as somebody at it said: roughly, and only when they asked to keep it.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::EvaporatorId;
use super::keep::{Hand, TRIES};
use super::screen::EvaporatorLabel;
use super::tables::put;
use crate::record::around::EvaporatorWhat;
use crate::store::{Batch, InputKey};

/// Thousandths of a degree are kept. One of them is at most 112 m wide, since a degree of latitude
/// is never longer than 111.7 km (WGS 84): enough to find the building, too little to say where in
/// it somebody stood.
const STEPS: f64 = 1_000.0;

/// Roughly a place on earth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Near {
    /// Thousandths of a degree, above zero to the north.
    pub latitude: i32,
    /// Thousandths of a degree, above zero to the east.
    pub longitude: i32,
}

impl Near {
    /// The place at these degrees, made rough; none if there is no such place.
    pub fn of(latitude: f64, longitude: f64) -> Option<Near> {
        let rough = |degrees: f64, max: f64| {
            let is_there = degrees.is_finite() && degrees.abs() <= max;
            is_there.then(|| (degrees * STEPS).round() as i32)
        };
        Some(Near {
            latitude: rough(latitude, 90.0)?,
            longitude: rough(longitude, 180.0)?,
        })
    }

    /// Whether such a place is on earth.
    pub fn is_on_earth(self) -> bool {
        self.latitude.unsigned_abs() <= 90_000 && self.longitude.unsigned_abs() <= 180_000
    }
}

impl fmt::Display for Near {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let north = if self.latitude < 0 { 'S' } else { 'N' };
        let east = if self.longitude < 0 { 'W' } else { 'E' };
        let degrees = |of: i32| (of.unsigned_abs() / 1_000, of.unsigned_abs() % 1_000);
        let (latitude, longitude) = (degrees(self.latitude), degrees(self.longitude));
        write!(f, "{}.{:03}° {north}, ", latitude.0, latitude.1)?;
        write!(f, "{}.{:03}° {east}", longitude.0, longitude.1)
    }
}

impl Desk {
    /// Keeps where an evaporator of the crew is.
    ///
    /// # Errors
    /// When the crew has no such evaporator, or there is no such place.
    pub async fn locate(
        &self,
        key: InputKey,
        actor: &Actor,
        (evaporator, near): (EvaporatorId, Near),
    ) -> Result<EvaporatorLabel, DeskError> {
        self.present(actor).await?;
        if !near.is_on_earth() {
            return Err(DeskError::NotUnderstood(
                "There is no such place. Send the location again.".to_owned(),
            ));
        }
        let stream = evaporator.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let mut row = self.evaporator_of(actor.crew, evaporator).await?;
            if row.near == Some(near) {
                break;
            }
            let expected = self.last(stream).await?;
            let now = self.now();
            let what = EvaporatorWhat::Located {
                latitude: near.latitude,
                longitude: near.longitude,
            };
            let mut batch = Batch::handling(key.clone(), now);
            let append = Hand::of(actor, now).writes(stream, expected, vec![what])?;
            batch.appends.push(append);
            row.near = Some(near);
            batch.index.push(put(evaporator.0, &row)?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                Err(error) => return Err(error),
                Ok(_) => break,
            }
        }
        self.evaporator_label(evaporator).await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_kept_roughly() {
        let near = Near::of(45.123_456, -93.265_01).unwrap();
        assert_eq!(near.to_string(), "45.123° N, 93.265° W");
        let south = Near::of(-0.000_6, 179.999_9).unwrap();
        assert_eq!(south.to_string(), "0.001° S, 180.000° E");
        for (latitude, longitude) in [(90.1, 0.0), (0.0, -180.5), (f64::NAN, 0.0)] {
            assert_eq!(Near::of(latitude, longitude), None);
        }
    }
}
