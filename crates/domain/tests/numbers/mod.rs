//! Numbers by chance that are the same on every machine, and shapes they are drawn from.

use domain::quantity::rounding::float;

/// Split-mix.
pub(crate) struct Numbers(pub(crate) u64);

impl Numbers {
    pub(crate) fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        let top = i64::try_from(z >> 11).unwrap();
        (float(top) + 0.5) / 9_007_199_254_740_992.0
    }

    /// Of a whole shape: a sum of exponential numbers.
    pub(crate) fn gamma(&mut self, shape: u32, mean: f64) -> f64 {
        let product: f64 = (0..shape).map(|_| self.unit()).product();
        -product.ln() * mean / f64::from(shape)
    }

    pub(crate) fn happens(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }
}
