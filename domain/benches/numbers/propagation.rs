//! A million draws of a dilution factor by the Monte Carlo method of JCGM 101:2008.
//!
//! Promises its estimate, standard uncertainty and 95 % interval with equal tails (7.6, 7.7) from
//! the dilution of `tests/compared/draws.json`, whose doubts have the shapes that JCGM 101, table
//! 1, gives them; and that they agree with the domain's own budget of it. Refuses doubts of other
//! kinds.

use std::{
    hint::black_box,
    time::{Duration, Instant},
};

use domain::{
    quantity::Number,
    uncertainty::{
        Doubt, Shape,
        dilution::{DeliveredVolume, DilutedBy, DilutionInputs, UncertainStep, dilution},
    },
};
use rust_decimal::prelude::ToPrimitive as _;

use super::{Failure, drawing::Draws, rounds::Task};

const DRAWS: usize = 1_000_000;

/// Draws at a time: few enough that they stay in the processor's cache.
const BLOCK: usize = 1_000;

/// How far above and below the ends of the interval lie.
const TAIL: usize = DRAWS / 40;

/// What is added to a volume, by its shape.
#[derive(Debug, Clone, Copy)]
enum Added {
    Normal(f64),
    Rectangular(f64),
    Triangular(f64),
}

struct Volume {
    value: f64,
    added: Vec<Added>,
}

struct Step {
    sample: Volume,
    other: Volume,
    /// Whether the other is put to the sample, not what both make.
    adds: bool,
}

/// The dilution.
pub(crate) struct Propagation {
    steps: Vec<Step>,
    /// The factor and its standard uncertainty by the domain's budget.
    budget: [f64; 2],
    round: u64,
}

impl Propagation {
    /// Reads the dilution.
    pub(crate) fn new() -> Result<Self, Failure> {
        let text = include_str!("../../../tests/compared/draws.json");
        let inputs: DilutionInputs = serde_json::from_str(text)?;
        let found = dilution(&inputs)?;
        Ok(Self {
            steps: inputs.steps.iter().map(step).collect::<Result<_, _>>()?,
            budget: [float(found.factor)?, float(found.standard_uncertainty)?],
            round: 0,
        })
    }
}

fn step(given: &UncertainStep) -> Result<Step, Failure> {
    let (other, adds) = match &given.with {
        DilutedBy::Diluent(other) => (other, true),
        DilutedBy::MadeUpTo(other) => (other, false),
    };
    Ok(Step {
        sample: volume(&given.sample)?,
        other: volume(other)?,
        adds,
    })
}

fn volume(given: &DeliveredVolume) -> Result<Volume, Failure> {
    let added = given.doubts.iter().map(|one| added(&one.doubt));
    Ok(Volume {
        value: float(given.volume)?,
        added: added.collect::<Result<_, _>>()?,
    })
}

fn added(doubt: &Doubt) -> Result<Added, Failure> {
    if let Doubt::Deviation {
        standard_deviation,
        observations: 1,
        relative: false,
    } = doubt
    {
        return Ok(Added::Normal(float(*standard_deviation)?));
    }
    if let Doubt::HalfWidth {
        half_width,
        shape,
        relative: false,
    } = doubt
    {
        let half = float(*half_width)?;
        match shape {
            Shape::Rectangular => return Ok(Added::Rectangular(half)),
            Shape::Triangular => return Ok(Added::Triangular(half)),
            Shape::UShaped => {}
        }
    }
    Err(format!("{doubt:?} is not drawn here").into())
}

fn float(number: Number) -> Result<f64, Failure> {
    Ok(number.0.to_f64().ok_or("a number that no float is near")?)
}

impl Volume {
    fn draw(&self, block: &mut [f64], draws: &mut Draws) {
        block.fill(self.value);
        for added in &self.added {
            match added {
                Added::Normal(by) => block.iter_mut().for_each(|v| *v += by * draws.normal()),
                Added::Rectangular(by) => block
                    .iter_mut()
                    .for_each(|v| *v += by * draws.rectangular()),
                Added::Triangular(by) => {
                    block.iter_mut().for_each(|v| *v += by * draws.triangular());
                }
            }
        }
    }
}

/// Factors, as many as there is room for.
fn draw(steps: &[Step], seed: u64, factors: &mut [f64]) {
    let mut draws = Draws::new(seed);
    let (mut sample, mut other) = ([0.0; BLOCK], [0.0; BLOCK]);
    for block in factors.chunks_mut(BLOCK) {
        block.fill(1.0);
        for step in steps {
            step.sample.draw(&mut sample, &mut draws);
            step.other.draw(&mut other, &mut draws);
            let whole = if step.adds { 1.0 } else { 0.0 };
            for (factor, (sample, other)) in block.iter_mut().zip(sample.iter().zip(&other)) {
                *factor *= (other + whole * sample) / sample;
            }
        }
    }
}

/// Mean, standard deviation, and the ends of the interval.
fn summary(factors: &mut [f64]) -> Result<Vec<f64>, Failure> {
    let count = factors.len().to_f64().ok_or("too many draws")?;
    let mean = factors.iter().sum::<f64>() / count;
    let squares: f64 = factors.iter().map(|one| (one - mean).powi(2)).sum();
    let order = f64::total_cmp;
    let (_, low, above) = factors.select_nth_unstable_by(TAIL - 1, order);
    let (low, after) = (*low, DRAWS - 2 * TAIL - 1);
    let (_, high, _) = above.select_nth_unstable_by(after, order);
    Ok(vec![mean, (squares / (count - 1.0)).sqrt(), low, *high])
}

impl Task for Propagation {
    fn name(&self) -> &'static str {
        "a million draws of a dilution, beside NumPy"
    }

    fn command(&self) -> &'static str {
        "draws"
    }

    fn aim(&self) -> u32 {
        1
    }

    fn once(&mut self) -> Result<(Duration, Vec<f64>), Failure> {
        self.round = self.round.wrapping_add(1);
        let begun = Instant::now();
        let mut factors = vec![0.0; DRAWS];
        draw(black_box(&self.steps), self.round, &mut factors);
        let figures = summary(&mut factors)?;
        Ok((begun.elapsed(), figures))
    }

    /// Of a million draws the mean scatters by a thousandth of u, u by 0.1 % at most, and an end
    /// of the interval by 0.003 u; about five of these apart are taken for chance.
    fn differing(&self, ours: &[f64], theirs: &[f64]) -> Option<String> {
        let [factor, standard] = self.budget;
        let said = || {
            format!(
                "{ours:?} here, {theirs:?} there, {:?} by budget",
                self.budget
            )
        };
        let ([mean, deviation, low, high], [other_mean, other_deviation, other_low, other_high]) =
            (ours, theirs)
        else {
            return Some(said());
        };
        let near = |one: f64, other: f64, most: f64| (one - other).abs() <= most * standard;
        let agree = near(*mean, *other_mean, 0.008)
            && near(*deviation, *other_deviation, 0.006)
            && near(*low, *other_low, 0.02)
            && near(*high, *other_high, 0.02)
            // The budget is of first order; beyond it the mean is off by (u/F)² F.
            && near(*mean, factor, 0.05)
            && near(*deviation, standard, 0.006);
        (!agree).then(said)
    }
}
