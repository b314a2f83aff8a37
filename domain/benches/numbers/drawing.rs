//! Random draws of the shapes that budgets have.
//!
//! Promises the same draws for the same seed. Words by Steele, Lea and Flood (SplitMix64, 2014);
//! normal draws by the ziggurat of Marsaglia and Tsang (Journal of Statistical Software 5 (2000)
//! 8) in the form of Doornik (2005): 128 layers of one area, of which a draw seldom needs more
//! than a table's two numbers.

/// Where the lowest layer ends and its tail begins, for 128 layers (Doornik 2005; from memory).
const TAIL: f64 = 3.442_619_855_899;

/// The area of every layer (Doornik 2005; from memory).
const AREA: f64 = 9.912_563_035_262_17e-3;

const LAYERS: usize = 128;

/// A layer of the ziggurat.
#[derive(Debug, Clone, Copy, Default)]
struct Layer {
    /// How wide it is.
    width: f64,
    /// How wide the one above it is: what lies within is below the curve.
    next: f64,
    /// That by this.
    share: f64,
}

/// A seeded generator.
pub(crate) struct Draws {
    state: u64,
    layers: [Layer; LAYERS],
}

/// The normal density without its factor.
fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp()
}

impl Draws {
    /// Begins with a seed.
    pub(crate) fn new(seed: u64) -> Self {
        let mut layers = [Layer::default(); LAYERS];
        let (mut width, mut next) = (AREA / density(TAIL), TAIL);
        for (place, layer) in layers.iter_mut().enumerate() {
            if place == LAYERS - 1 {
                next = 0.0;
            }
            *layer = Layer {
                width,
                next,
                share: next / width,
            };
            width = next;
            next = (-2.0 * (AREA / width + density(width)).min(1.0).ln()).sqrt();
        }
        Self {
            state: seed,
            layers,
        }
    }

    fn word(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to below 1.
    fn uniform(&mut self) -> f64 {
        fraction(self.word())
    }

    /// From -1 to 1, each as likely as another.
    pub(crate) fn rectangular(&mut self) -> f64 {
        2.0 * self.uniform() - 1.0
    }

    /// From -1 to 1, likelier near the middle.
    pub(crate) fn triangular(&mut self) -> f64 {
        self.uniform() + self.uniform() - 1.0
    }

    /// With standard deviation 1.
    pub(crate) fn normal(&mut self) -> f64 {
        loop {
            let word = self.word();
            let place = usize::try_from(word % 128).unwrap_or_default();
            let layer = self.layers.get(place).copied().unwrap_or_default();
            // The upper 52 bits: none that chose the layer.
            let across = 2.0 * fraction(word) - 1.0;
            let x = across * layer.width;
            if across.abs() < layer.share {
                return x;
            }
            if place == 0 {
                return self.tail().copysign(across);
            }
            // Between two layers: below the curve, or drawn again.
            let (low, high) = (density(layer.width), density(layer.next));
            if low + self.uniform() * (high - low) < density(x) {
                return x;
            }
        }
    }

    /// Beyond the lowest layer (Marsaglia 1964).
    fn tail(&mut self) -> f64 {
        loop {
            let beyond = -(1.0 - self.uniform()).ln() / TAIL;
            let height = -(1.0 - self.uniform()).ln();
            if 2.0 * height >= beyond * beyond {
                return TAIL + beyond;
            }
        }
    }
}

/// The upper 52 bits of a word as a fraction from 0 to below 1.
fn fraction(word: u64) -> f64 {
    f64::from_bits(0x3ff0_0000_0000_0000 | (word >> 12)) - 1.0
}
