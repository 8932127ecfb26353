//! Axes: a range of numbers on a range of places, with round ticks.

use super::label;

/// Height of tick text.
pub(crate) const TICK: f64 = 11.0;

/// How much room a tick is given where there is more than it needs: on a level and on an upright axis.
const LEVEL: f64 = 64.0;
const UPRIGHT: f64 = 40.0;

/// Numbers between `low` and `high` on places between `x0` and `x1`.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Scale {
    pub(crate) low: f64,
    pub(crate) high: f64,
    x0: f64,
    x1: f64,
    step: f64,
    /// The first tick.
    first: f64,
}

impl Scale {
    /// A scale that holds all finite values and zero, its ends on ticks.
    pub(crate) fn with_zero(values: impl IntoIterator<Item = f64>, x0: f64, x1: f64) -> Self {
        Self::over(values.into_iter().chain([0.0]), x0, x1)
    }

    /// A scale that holds all finite values, its ends on ticks.
    pub(crate) fn over(values: impl IntoIterator<Item = f64>, x0: f64, x1: f64) -> Self {
        Self::spaced(values, x0, x1, LEVEL, |widest| widest + 10.0)
    }

    /// A scale that holds all finite values and little more: its ends stand between ticks, or on zero where all values are on one side of it.
    pub(crate) fn close(values: impl IntoIterator<Item = f64>, x0: f64, x1: f64) -> Self {
        Self::closely(values, x0, x1, LEVEL, |widest| widest + 10.0)
    }

    /// The same for an axis that stands upright: places are heights above its foot, and tick texts need only their height.
    pub(crate) fn upright(values: impl IntoIterator<Item = f64>, height: f64) -> Self {
        Self::closely(values, 0.0, height, UPRIGHT, |_| 2.0 * TICK)
    }

    fn closely(values: impl IntoIterator<Item = f64>, x0: f64, x1: f64, per: f64, apart: impl Fn(f64) -> f64) -> Self {
        let values: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).map(|v| v.clamp(-1e300, 1e300)).collect();
        let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        let wide = Self::spaced(values, x0, x1, per, &apart);
        let room = 0.05 * (high - low);
        let (a, b) = (low - room, high + room);
        let (a, b) = (if low >= 0.0 { a.max(0.0) } else { a }, if high <= 0.0 { b.min(0.0) } else { b });
        let ticks: Vec<f64> = wide.ticks().into_iter().filter(|t| a <= *t && *t <= b).collect();
        // nothing to hold, one value, or a span so short beside its values that the ends are lost in rounding
        match ticks[..] {
            [first, _, ..] if a < b && a.is_finite() && b.is_finite() => Self { low: a, high: b, first, ..wide },
            _ => wide,
        }
    }

    /// A scale with about one tick per so much room, and ticks as far apart as asked for, given the widest tick text.
    fn spaced(values: impl IntoIterator<Item = f64>, x0: f64, x1: f64, per: f64, apart: impl Fn(f64) -> f64) -> Self {
        let finite = values.into_iter().filter(|v| v.is_finite()).map(|v| v.clamp(-1e300, 1e300));
        let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        let (low, high) = if low > high { (0.0, 1.0) } else { (low, high) };
        let (low, high) = if high - low <= f64::EPSILON * low.abs().max(high.abs()) {
            let half = if low == 0.0 { 0.5 } else { low.abs() / 2.0 };
            if low == 0.0 { (0.0, 1.0) } else { (low - half, high + half) }
        } else {
            (low, high)
        };
        let room = (x1 - x0).max(1.0);
        let mut wanted = (room / per).clamp(2.0, 8.0);
        loop {
            let step = round_step((high - low) / wanted);
            let (a, b) = ((low / step).floor() * step, (high / step).ceil() * step);
            let scale = Self { low: a, high: b, x0, x1, step, first: a };
            let widest = scale.ticks().iter().map(|t| label::width(&scale.tick_text(*t), TICK)).fold(0.0, f64::max);
            let gap = room * step / (b - a);
            if wanted <= 1.0 || apart(widest) <= gap {
                return scale;
            }
            wanted = (wanted - 1.0).max(1.0);
        }
    }

    /// The place of a number.
    pub(crate) fn x(&self, value: f64) -> f64 {
        if !value.is_finite() {
            return self.x0;
        }
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.x0 + share * (self.x1 - self.x0)
    }

    /// The numbers at which ticks stand.
    pub(crate) fn ticks(&self) -> Vec<f64> {
        let count = ((self.high - self.first) / self.step + 1e-6).floor().clamp(1.0, 20.0);
        // the count is at most 20
        (0..=count as u32).map(|i| self.first + f64::from(i) * self.step).collect()
    }

    /// The text of a tick: as many decimals as the step needs.
    pub(crate) fn tick_text(&self, tick: f64) -> String {
        let tick = if tick.abs() < self.step * 1e-6 { 0.0 } else { tick };
        let power = exponent(self.step);
        if !(-6..9).contains(&power) {
            return format!("{tick:.0e}");
        }
        let decimals = usize::try_from(-power).unwrap_or(0);
        group(&format!("{tick:.decimals$}"))
    }
}

/// The decimal exponent of a positive number, read off its printed form: platform logarithms differ between machines.
fn exponent(x: f64) -> i32 {
    format!("{x:e}").split_once('e').and_then(|(_, e)| e.parse().ok()).unwrap_or(0)
}

/// The next of 1, 2, 5 times a power of ten.
fn round_step(raw: f64) -> f64 {
    let raw = raw.max(f64::MIN_POSITIVE * 1e10);
    let power: f64 = format!("1e{}", exponent(raw)).parse().unwrap_or(1.0);
    let lead = raw / power;
    let lead = [1.0, 2.0, 5.0, 10.0].into_iter().find(|s| lead <= s * (1.0 + 1e-9)).unwrap_or(10.0);
    lead * power
}

/// Sets thousands apart by a narrow no-break space.
pub(crate) fn group(number: &str) -> String {
    let (sign, rest) = number.strip_prefix('-').map_or(("", number), |r| ("\u{2212}", r));
    let (whole, decimals) = rest.split_once('.').map_or((rest, None), |(w, d)| (w, Some(d)));
    let mut out = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i) % 3 == 0 {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    if let Some(decimals) = decimals {
        out.push('.');
        out.push_str(decimals);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_do_not_collide() {
        let cases = [
            vec![3.0, 97.0],
            vec![-20.0, 130.0],
            vec![0.0012, 0.0049],
            vec![1_234_567.0],
            vec![5.0, 5.0],
            vec![],
            vec![f64::NAN],
            vec![-3.0],
        ];
        for values in cases {
            for room in [120.0, 300.0, 600.0] {
                let scale = Scale::with_zero(values.iter().copied(), 10.0, 10.0 + room);
                let ticks = scale.ticks();
                assert!((2..=20).contains(&ticks.len()), "{values:?} {ticks:?}");
                for pair in ticks.windows(2) {
                    let gap = scale.x(pair[1]) - scale.x(pair[0]);
                    let need =
                        (label::width(&scale.tick_text(pair[0]), TICK) + label::width(&scale.tick_text(pair[1]), TICK)) / 2.0;
                    assert!(gap > need, "{values:?} in {room}: {gap} for {need}");
                }
                for v in values.iter().filter(|v| v.is_finite()) {
                    assert!(scale.low <= *v && *v <= scale.high, "{v} in {scale:?}");
                }
            }
        }
    }

    #[test]
    fn a_close_scale_wastes_little_and_keeps_zero() {
        let scale = Scale::close([-9_094.0, 48.0, 144_971.0], 0.0, 400.0);
        assert!(scale.low > -20_000.0 && scale.low < -9_094.0 && scale.high < 155_000.0, "{scale:?}");
        let ticks = scale.ticks();
        assert!(ticks.contains(&0.0) && ticks.iter().all(|t| scale.low <= *t && *t <= scale.high), "{ticks:?}");
        assert_eq!(Scale::upright([0.0, 7.0], 200.0).low, 0.0);
        assert_eq!(Scale::upright([-7.0, 0.0], 200.0).high, 0.0);
        for values in [vec![], vec![5.0], vec![5.0, 5.0 + 1e-15], vec![f64::MAX, -f64::MAX], vec![1e300, 1.0]] {
            let scale = Scale::close(values.iter().copied(), 0.0, 300.0);
            assert!(scale.low < scale.high && (2..=21).contains(&scale.ticks().len()), "{values:?} {scale:?}");
        }
    }

    #[test]
    fn tick_text_has_the_decimals_of_its_step() {
        let scale = Scale::over([0.0, 1.0], 0.0, 400.0);
        assert_eq!(
            scale.ticks().iter().map(|t| scale.tick_text(*t)).collect::<Vec<_>>(),
            ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]
        );
        assert_eq!(group("-12345.5"), "\u{2212}12\u{202f}345.5");
        assert_eq!(group("1234"), "1234");
    }
}
