//! Accuracy of the maths module: against arbitrary-precision values, against the platform's functions, and against itself.
//!
//! The values in the tables were computed with arbitrary-precision arithmetic (200 bits and more) and rounded to the nearest double. On about
//! 12,000 random points of each function the largest errors seen against such values were, in units in the last place (ulp):
//! exp 0.83, ln 0.74, log10 0.59, sin 0.71, cos 0.68, tan 0.80, asin 0.77, acos 0.81, atan 0.73; normal_inv 5 in the far tail.
#![expect(clippy::disallowed_methods, reason = "the platform functions are the reference here")]

use std::f64::consts::{E, FRAC_PI_2, LN_2, LN_10, LOG10_2};

use tare_engine::math;

/// Draws numbers from a fixed sequence (G. L. Steele and others, SplitMix64, 2014).
struct Draws(u64);

impl Draws {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly between the two.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.bits() >> 11) as f64 / 9_007_199_254_740_992.0)
    }

    /// Any finite number, all sizes alike.
    fn any(&mut self) -> f64 {
        let x = f64::from_bits(self.bits());
        if x.is_finite() { x } else { 1.0 }
    }
}

/// Counts the doubles between two numbers of the same sign.
fn ulps(a: f64, b: f64) -> u64 {
    if a == b || (a.is_nan() && b.is_nan()) {
        0
    } else if a.is_nan() || b.is_nan() || a.is_sign_negative() != b.is_sign_negative() {
        u64::MAX
    } else {
        a.to_bits().abs_diff(b.to_bits())
    }
}

type Function = fn(f64) -> f64;

#[rustfmt::skip]
const EXACT: &[(&str, Function, f64, f64)] = &[
    ("exp", math::exp, 1.0, E),
    ("exp", math::exp, -0.1, 0.9048374180359595),
    ("exp", math::exp, 1e-05, 1.00001000005),
    ("exp", math::exp, 12.75, 344551.8961378237),
    ("exp", math::exp, -700.5, 5.980196118639791e-305),
    ("exp", math::exp, 709.75, 1.7398368732641605e+308),
    ("exp", math::exp, -740.25, 3.26e-322),
    ("ln", math::ln, 2.0, LN_2),
    ("ln", math::ln, 10.0, LN_10),
    ("ln", math::ln, 0.7, -0.35667494393873245),
    ("ln", math::ln, 1.0000001, 9.999999505838704e-08),
    ("ln", math::ln, 0.9999, -0.00010000500033334732),
    ("ln", math::ln, 3.7e+200, 461.8253514184593),
    ("ln", math::ln, 2.5e-320, -735.9109501590998),
    ("log10", math::log10, 2.0, LOG10_2),
    ("log10", math::log10, 0.3, -0.5228787452803376),
    ("log10", math::log10, 7e-300, -299.15490195998575),
    ("log10", math::log10, 1.5e-321, -320.82334175950706),
    ("log10", math::log10, 1.01, 0.004321373782642578),
    ("sin", math::sin, 1.0, 0.8414709848078965),
    ("sin", math::sin, 0.5, 0.479425538604203),
    ("sin", math::sin, -2.3, -0.7457052121767203),
    ("sin", math::sin, 100.0, -0.5063656411097588),
    ("sin", math::sin, 1e+22, -0.8522008497671888),
    ("sin", math::sin, 1.7e+308, -0.5952560848632077),
    ("sin", math::sin, 355.0, -3.014435335948845e-05),
    ("cos", math::cos, 1.0, 0.5403023058681398),
    ("cos", math::cos, 0.5, 0.8775825618903728),
    ("cos", math::cos, -2.3, -0.6662760212798241),
    ("cos", math::cos, 100.0, 0.8623188722876839),
    ("cos", math::cos, 1e+22, 0.523214785395139),
    ("cos", math::cos, 1.7e+308, 0.803536056087918),
    ("cos", math::cos, FRAC_PI_2, 6.123233995736766e-17),
    ("tan", math::tan, 1.0, 1.5574077246549023),
    ("tan", math::tan, 0.7, 0.8422883804630794),
    ("tan", math::tan, -2.3, 1.1192136417341325),
    ("tan", math::tan, 100.0, -0.5872139151569291),
    ("tan", math::tan, 1e+22, -1.6287782256068988),
    ("tan", math::tan, FRAC_PI_2, 1.633123935319537e+16),
    ("asin", math::asin, 0.3, 0.3046926540153975),
    ("asin", math::asin, -0.6, -0.6435011087932844),
    ("asin", math::asin, 0.98, 1.3704614844717768),
    ("asin", math::asin, 0.9999999, 1.5703491131957876),
    ("acos", math::acos, 0.3, 1.2661036727794992),
    ("acos", math::acos, -0.6, 2.214297435588181),
    ("acos", math::acos, 0.98, 0.20033484232311968),
    ("acos", math::acos, 0.9999999, 0.00044721359910904126),
    ("acos", math::acos, 1e-09, 1.5707963257948967),
    ("atan", math::atan, 0.3, 0.2914567944778671),
    ("atan", math::atan, -0.6, -0.5404195002705842),
    ("atan", math::atan, 1.1, 0.8329812666744317),
    ("atan", math::atan, 2.2, 1.1441688336680205),
    ("atan", math::atan, 50.0, 1.550798992821746),
    ("atan", math::atan, 10000000000.0, 1.5707963266948965),
];

#[test]
fn functions_are_within_one_ulp_of_exact_values() {
    for (name, function, x, exact) in EXACT {
        let found = function(*x);
        assert!(ulps(found, *exact) <= 1, "{name}({x:e}) = {found:e}, exact {exact:e}");
    }
}

#[rustfmt::skip]
const EXACT_POWERS: &[(f64, f64, f64)] = &[
    (1.7, 2.3, 3.388695291147646),
    (10.0, -3.5, 0.00031622776601683794),
    (0.999, 5000.0, 0.006721111959865588),
    (1.0000001, 1000000000.0, 2.6881038582144647e+43),
    (2.0, -1060.5, 5.7238e-320),
    (3e-310, 0.3, 1.390389170315919e-93),
    (1e+200, -1.6, 1e-320),
    (7.0, 0.3333333333333333, 1.912931182772389),
    (0.2, 13.0, 8.192000000000005e-10),
    (1.1, -7.0, 0.5131581182307065),
];

#[test]
fn powers_are_within_one_ulp_of_exact_values() {
    for (x, y, exact) in EXACT_POWERS {
        let found = math::pow(*x, *y);
        assert!(ulps(found, *exact) <= 1, "{x:e} ^ {y:e} = {found:e}, exact {exact:e}");
    }
}

/// Runs our function and the platform's over draws and gives the largest difference in ulp with its place.
fn largest(ours: Function, platform: Function, mut draw: impl FnMut() -> f64) -> (u64, f64) {
    (0..50_000).map(|_| draw()).map(|x| (ulps(ours(x), platform(x)), x)).max_by_key(|(ulps, _)| *ulps).unwrap()
}

#[test]
fn functions_are_within_two_ulp_of_the_platform() {
    let mut draws = Draws(7);
    let mut agree = |name: &str, ours: Function, platform: Function, low: f64, high: f64| {
        let (most, x) = largest(ours, platform, || draws.between(low, high));
        assert!(most <= 2, "{name}({x:e}) differs by {most} ulp");
    };
    agree("exp", math::exp, f64::exp, -745.0, 709.7);
    agree("exp", math::exp, f64::exp, -1.0, 1.0);
    agree("ln", math::ln, f64::ln, 0.0, 3.0);
    agree("log10", math::log10, f64::log10, 0.0, 3.0);
    agree("sin", math::sin, f64::sin, -20.0, 20.0);
    agree("cos", math::cos, f64::cos, -20.0, 20.0);
    agree("tan", math::tan, f64::tan, -20.0, 20.0);
    agree("asin", math::asin, f64::asin, -1.0, 1.0);
    agree("acos", math::acos, f64::acos, -1.0, 1.0);
    agree("atan", math::atan, f64::atan, -5.0, 5.0);
}

#[test]
fn functions_are_within_two_ulp_of_the_platform_at_all_sizes() {
    let mut draws = Draws(8);
    let mut agree = |name: &str, ours: Function, platform: Function| {
        let (most, x) = largest(ours, platform, || draws.any());
        assert!(most <= 2, "{name}({x:e}) differs by {most} ulp");
    };
    agree("exp", math::exp, f64::exp);
    agree("ln", math::ln, f64::ln);
    agree("log10", math::log10, f64::log10);
    agree("sin", math::sin, f64::sin);
    agree("cos", math::cos, f64::cos);
    agree("tan", math::tan, f64::tan);
    agree("atan", math::atan, f64::atan);
}

#[test]
fn subnormals_are_met_exactly() {
    let mut draws = Draws(9);
    for _ in 0..20_000 {
        let x = f64::from_bits(draws.bits() >> 12);
        assert!(ulps(math::ln(x), x.ln()) <= 1, "ln({x:e})");
        assert!(ulps(math::log10(x), x.log10()) <= 1, "log10({x:e})");
        let power = draws.between(-745.0, -708.0);
        assert!(ulps(math::exp(power), power.exp()) <= 1, "exp({power})");
    }
}

#[test]
fn powers_are_within_two_ulp_of_the_platform() {
    let mut draws = Draws(10);
    for _ in 0..100_000 {
        let pairs = [
            (math::exp(draws.between(-20.0, 20.0)), draws.between(-30.0, 30.0)),
            (draws.between(0.5, 1.5), draws.between(-900.0, 900.0)),
            (draws.between(-100.0, 100.0), draws.between(-10.0, 10.0).round()),
            (draws.any().abs(), draws.between(-2.0, 2.0)),
        ];
        for (x, y) in pairs {
            let (ours, platform) = (math::pow(x, y), x.powf(y));
            assert!(ulps(ours, platform) <= 2, "{x:e} ^ {y} = {ours:e}, platform {platform:e}");
        }
    }
}

#[test]
fn powers_at_the_edges_follow_ieee_754_but_keep_nan() {
    const EDGES: [f64; 19] = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        0.5,
        -0.5,
        2.0,
        -2.0,
        3.0,
        -3.0,
        2.5,
        -2.5,
        1e300,
        -1e300,
        5e-324,
        9007199254740993.0,
        1e22,
        f64::INFINITY,
        f64::NEG_INFINITY,
    ];
    for x in EDGES {
        for y in EDGES {
            let (ours, platform) = (math::pow(x, y), x.powf(y));
            assert!(ulps(ours, platform) <= 1, "{x:e} ^ {y:e} = {ours:e}, platform {platform:e}");
        }
        assert!(math::pow(x, f64::NAN).is_nan() && math::pow(f64::NAN, x).is_nan());
    }
}

#[test]
fn whole_powers_that_are_doubles_are_exact() {
    for base in 1..=30_u64 {
        for exponent in 0..=60_u32 {
            let Some(exact) = base.checked_pow(exponent).filter(|exact| *exact < 1 << 53) else { continue };
            assert_eq!(math::pow(base as f64, f64::from(exponent)), exact as f64, "{base} ^ {exponent}");
            assert_eq!(math::pow(-(base as f64), f64::from(exponent)).abs(), exact as f64, "-{base} ^ {exponent}");
        }
    }
    for exponent in -1074..=1023 {
        let exact = if exponent < -1022 {
            f64::from_bits(1 << (exponent + 1074))
        } else {
            f64::from_bits(((exponent + 1023) as u64) << 52)
        };
        assert_eq!(math::pow(2.0, f64::from(exponent)), exact, "2 ^ {exponent}");
    }
}

#[test]
fn tenth_powers_have_whole_logarithms() {
    for exponent in -300..=300 {
        let power: f64 = format!("1e{exponent}").parse().unwrap();
        assert_eq!(math::log10(power), f64::from(exponent));
    }
}

/// Test values of algorithm AS 241 (M. J. Wichura, Applied Statistics 37, 1988, p. 484); from memory, not read.
#[test]
fn normal_quantile_meets_its_published_test_values() {
    for (p, published) in [(0.25, -0.674_489_750_196_081_7), (0.001, -3.090_232_306_167_814), (1e-20, -9.262_340_089_798_408)] {
        let found = math::normal_inv(p);
        assert!((found / published - 1.0_f64).abs() < 4e-16, "normal_inv({p:e}) = {found}, published {published}");
    }
    // arbitrary precision: the usual 95 % point, and far out
    assert!(ulps(math::normal_inv(0.975), 1.9599639845400538) <= 2);
    assert!(ulps(math::normal_inv(1e-300), -37.0470962993612) <= 8);
}

#[test]
fn normal_quantile_is_odd_and_rises() {
    assert_eq!(math::normal_inv(0.5), 0.0);
    assert_eq!([math::normal_inv(0.0), math::normal_inv(1.0)], [f64::NEG_INFINITY, f64::INFINITY]);
    assert!([-0.1, 1.1, f64::NAN, f64::INFINITY].iter().all(|p| math::normal_inv(*p).is_nan()));
    let mut last = f64::NEG_INFINITY;
    for k in 1..4096 {
        let p = f64::from(k) / 4096.0;
        let z = math::normal_inv(p);
        assert_eq!(z, -math::normal_inv(1.0 - p), "at {p}");
        assert!(z > last, "at {p}");
        last = z;
    }
}

#[rustfmt::skip]
const EXACT_BETA: &[(f64, f64, f64, f64)] = &[
    (0.1, 2.5, 3.5, 0.17497634435653014),
    (0.975, 1.5, 4.0, 0.6700743452888595),
    (0.001, 5.0, 1.2, 0.23248073511801062),
    (0.5, 0.5, 0.5, 0.5),
    (1e-06, 3.0, 40.0, 0.0004452159998612153),
    (0.9, 60.0, 80.0, 0.4823254503489285),
];

#[test]
fn beta_quantile_meets_exact_values() {
    for (p, a, b, exact) in EXACT_BETA {
        let found = math::beta_inv(*p, *a, *b);
        assert!((found / exact - 1.0).abs() < 4e-15, "beta_inv({p}, {a}, {b}) = {found}, exact {exact}");
    }
}

#[test]
fn beta_quantile_inverts_the_share() {
    let mut draws = Draws(11);
    for _ in 0..5_000 {
        let (a, b) = (math::exp(draws.between(-2.0, 9.0)), math::exp(draws.between(-2.0, 9.0)));
        let p = draws.between(0.0, 1.0);
        let x = math::beta_inv(p, a, b);
        // what rounding x alone does to the share
        let grain = math::beta_pdf(x, a, b) * x * f64::EPSILON;
        let back = math::beta_cdf(x, a, b);
        assert!((back - p).abs() <= 1e-12 * p.min(1.0 - p) + 1e-15 + grain, "beta_inv({p}, {a}, {b}) = {x}, back {back}");
    }
}

#[test]
fn beta_quantile_of_special_shapes_is_known() {
    let mut draws = Draws(12);
    for _ in 0..2_000 {
        let p = draws.between(0.0, 1.0);
        let shape = math::exp(draws.between(-2.0, 6.0));
        let near = |found: f64, exact: f64, what: &str| {
            assert!((found - exact).abs() <= 1e-13 * exact, "{what}: p {p}, shape {shape}: {found}, exact {exact}");
        };
        near(math::beta_inv(p, 1.0, 1.0), p, "even");
        near(math::beta_inv(p, shape, 1.0), math::pow(p, 1.0 / shape), "power");
        // 1 - beta_inv(p, a, b) = beta_inv(1 - p, b, a); p to 53 bits is symmetric itself
        let mirrored = 1.0 - math::beta_inv(1.0 - p, 2.5, shape);
        assert!((math::beta_inv(p, shape, 2.5) - mirrored).abs() < 2e-15, "mirror: p {p}, shape {shape}");
        // the arc sine law: beta(1/2, 1/2) has the quantile sin^2(pi p / 2)
        let s = math::sin(FRAC_PI_2 * p);
        near(math::beta_inv(p, 0.5, 0.5), s * s, "arc sine");
    }
    for shape in [0.2, 1.0, 3.0, 250.0] {
        assert!((math::beta_inv(0.5, shape, shape) - 0.5).abs() < 1e-15);
    }
}

#[test]
fn beta_refuses_what_it_cannot_do() {
    let refused =
        [(-0.1, 2.0, 3.0), (1.1, 2.0, 3.0), (0.5, 0.0, 3.0), (0.5, 2.0, -1.0), (f64::NAN, 1.0, 1.0), (0.5, f64::INFINITY, 1.0)];
    for (p, a, b) in refused {
        assert!(math::beta_inv(p, a, b).is_nan(), "beta_inv({p}, {a}, {b})");
    }
    assert_eq!([math::beta_inv(0.0, 2.0, 3.0), math::beta_inv(1.0, 2.0, 3.0)], [0.0, 1.0]);
}

#[test]
fn whole_numbers_snap_and_round() {
    assert_eq!([math::floor(2.9999999999), math::floor(2.99999), math::floor(-3.0000000001)], [3.0, 2.0, -3.0]);
    assert_eq!([math::ceil(3.0000000001), math::ceil(3.00001), math::ceil(-2.9999999999)], [3.0, 4.0, -3.0]);
    assert_eq!([math::floor(1e6 - 1e-4), math::floor(1e6 - 1e-2)], [1e6, 999_999.0]);
    assert_eq!([math::round(2.5), math::round(-2.5), math::round(0.49999999999999994)], [3.0, -3.0, 0.0]);
    assert_eq!(math::ceil(0.1 * 3.0 / 0.1), 3.0); // 3.0000000000000004
}

/// The same bits everywhere: a fold (FNV-1a) of all results over fixed draws. It changes only when a function is changed on purpose.
#[test]
fn results_have_the_recorded_bits() {
    let mut draws = Draws(13);
    let mut fold: u64 = 0xcbf2_9ce4_8422_2325;
    for _ in 0..20_000 {
        let (wide, near, share) = (draws.any(), draws.between(-30.0, 30.0), draws.between(0.0, 1.0));
        let results = [
            math::exp(near),
            math::ln(wide.abs()),
            math::log10(near.abs()),
            math::sin(wide),
            math::cos(near),
            math::tan(near),
            math::asin(share),
            math::acos(share),
            math::atan(near),
            math::pow(near.abs(), share * 10.0),
            math::normal_inv(share),
            math::beta_inv(share, near.abs() + 0.1, 3.0),
        ];
        for result in results {
            let bits = if result.is_nan() { 0 } else { result.to_bits() };
            fold = bits.to_le_bytes().iter().fold(fold, |fold, byte| (fold ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3));
        }
    }
    assert_eq!(format!("{fold:016x}"), "de23977430d1705d");
}
