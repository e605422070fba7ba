//! Gamma-Poisson and beta-binomial shrinkage against 30-digit computations and R.

use approx::assert_relative_eq;
use boretally::stats::gamma_mixture::{Gamma, GammaMixture};
use boretally::stats::james_stein::james_stein;
use boretally::stats::{beta_binomial, gamma_poisson};

use crate::data::{number, rows, whole};

fn pumps() -> Vec<(u64, f64)> {
    rows("pumps.csv")
        .iter()
        .map(|row| (whole(row, "failures"), number(row, "kilohours")))
        .collect()
}

/// Pump failures of Gaver & O'Muircheartaigh 1987. Maximum found with mpmath in 30 digits; R MASS `glm.nb` agrees to 2e-8.
#[test]
fn pumps_by_marginal_likelihood() {
    let fit = gamma_poisson::fit(&pumps()).unwrap();
    assert!(!fit.boundary);
    assert_relative_eq!(fit.shape, 0.8222686496886464, max_relative = 1e-8);
    assert_relative_eq!(fit.rate, 1.2589544433707194, max_relative = 1e-8);
    assert_relative_eq!(fit.mean, 0.6531361432643328, max_relative = 1e-8);
    assert_relative_eq!(fit.log_likelihood, -32.26306704495239, max_relative = 1e-12);
    assert_relative_eq!(
        fit.log_likelihood_poisson,
        -78.98681894513803,
        max_relative = 1e-12
    );
    assert_relative_eq!(
        fit.likelihood_ratio,
        93.44750380037127,
        max_relative = 1e-12
    );
    assert_relative_eq!(fit.p, 2.0855919753789806e-22, max_relative = 1e-8);
    let covariance = fit.covariance_of_logs.expect("inside");
    let expected = [
        [0.18626647929031592, 0.205897969918455],
        [0.205897969918455, 0.3940373056457176],
    ];
    for (got, want) in covariance.iter().flatten().zip(expected.iter().flatten()) {
        assert_relative_eq!(*got, *want, max_relative = 1e-8);
    }
}

/// Posterior mean, 95 % limits and own weight of each pump, SciPy 1.17 at the 30-digit maximum.
const POSTERIOR: [[f64; 4]; 10] = [
    [
        0.06091580184776205,
        0.021933243209303847,
        0.11945755486799196,
        0.986828120785558,
    ],
    [
        0.10732513923436167,
        0.011154451133143062,
        0.30979042797077333,
        0.9258520630602041,
    ],
    [
        0.09077585845009709,
        0.03268460597293222,
        0.1780139432226801,
        0.9803714535995084,
    ],
    [
        0.11669336056688222,
        0.06505294698055299,
        0.18317323721107065,
        0.9900884521614292,
    ],
    [
        0.5881359352484098,
        0.15400777292698284,
        1.3077342319805974,
        0.8062835407847919,
    ],
    [
        0.6062049685416576,
        0.3693682785201594,
        0.900759402483738,
        0.9614986330663561,
    ],
    [
        0.7899023125164567,
        0.08209564700103898,
        2.2800266293177205,
        0.45427858491594414,
    ],
    [
        0.7899023125164567,
        0.08209564700103898,
        2.2800266293177205,
        0.45427858491594414,
    ],
    [
        1.4373574160499532,
        0.4545467503356724,
        2.975740688942399,
        0.6247476785092053,
    ],
    [
        1.94414832767129,
        1.2299899171181257,
        2.8191595520756323,
        0.8927541247864982,
    ],
];

#[test]
fn posterior_of_each_pump() {
    let fit = gamma_poisson::fit(&pumps()).unwrap();
    for ((count, exposure), [mean, lower, upper, weight]) in pumps().into_iter().zip(POSTERIOR) {
        let shrunk = fit.shrunk(count, exposure, 0.95).unwrap();
        assert_relative_eq!(shrunk.mean, mean, max_relative = 1e-8);
        assert_relative_eq!(shrunk.interval.lower, lower, max_relative = 1e-8);
        assert_relative_eq!(shrunk.interval.upper, upper, max_relative = 1e-8);
        assert_relative_eq!(shrunk.own_weight, weight, max_relative = 1e-8);
    }
}

/// Eight shops of 20 that vary less than chance: closed forms at the boundary, and no failure.
#[test]
fn shares_without_overdispersion() {
    let shops: Vec<(u64, u64)> = [2, 2, 3, 2, 2, 3, 2, 2]
        .into_iter()
        .map(|y| (y, 20))
        .collect();
    let fit = beta_binomial::fit(&shops).unwrap();
    assert!(fit.boundary && fit.a.is_infinite() && fit.b.is_infinite());
    assert_eq!(
        (fit.correlation, fit.likelihood_ratio, fit.p),
        (0.0, 0.0, 1.0)
    );
    assert_relative_eq!(
        fit.log_likelihood,
        -10.713965100162323,
        max_relative = 1e-12
    );
    for (y, n) in shops {
        assert_relative_eq!(
            fit.shrunk(y, n, 0.95).unwrap().mean,
            0.1125,
            max_relative = 1e-12
        );
    }
}

/// The same for counts on exposure (own example): everyone gets the pooled rate.
#[test]
fn rates_without_overdispersion() {
    let shops: Vec<(u64, f64)> = [2, 2, 3, 2, 2, 3, 2, 2]
        .into_iter()
        .map(|y| (y, 20.0))
        .collect();
    let fit = gamma_poisson::fit(&shops).unwrap();
    assert!(fit.boundary && fit.shape.is_infinite() && fit.rate.is_infinite());
    assert_eq!((fit.likelihood_ratio, fit.p), (0.0, 1.0));
    for (y, t) in shops {
        assert_relative_eq!(
            fit.shrunk(y, t, 0.95).unwrap().mean,
            0.1125,
            max_relative = 1e-12
        );
    }
}

/// Batting counts of Efron & Morris 1975 (45 at-bats each). Maximum found with mpmath in 40 digits; R `optim` agrees to 2e-7.
/// The likelihood is nearly flat: the boundary is 0.014 below the maximum.
#[test]
fn baseball_by_marginal_likelihood() {
    let players: Vec<(u64, u64)> = rows("baseball_1970.csv")
        .iter()
        .map(|row| (whole(row, "hits_of_45"), 45))
        .collect();
    let fit = beta_binomial::fit(&players).unwrap();
    assert!(!fit.boundary);
    assert_relative_eq!(fit.a, 210.550835977517, max_relative = 1e-6);
    assert_relative_eq!(fit.b, 582.6859850720413, max_relative = 1e-6);
    assert_relative_eq!(fit.mean, 0.26543250437987753, max_relative = 1e-9);
    assert_relative_eq!(
        fit.likelihood_ratio,
        0.02807408309126913,
        max_relative = 1e-9
    );
    let posterior = [
        0.27265664098523845,
        0.27146366070223454,
        0.27027068041923064,
        0.2690777001362267,
        0.2678847198532228,
        0.2678847198532228,
        0.2666917395702189,
        0.265498759287215,
        0.2643057790042111,
        0.2643057790042111,
        0.2631127987212072,
        0.2631127987212072,
        0.2631127987212072,
        0.2631127987212072,
        0.2631127987212072,
        0.2619198184382033,
        0.26072683815519937,
        0.25953385787219546,
    ];
    for ((y, n), want) in players.into_iter().zip(posterior) {
        assert_relative_eq!(
            fit.shrunk(y, n, 0.95).unwrap().mean,
            want,
            max_relative = 1e-8
        );
    }
}

/// Efron & Morris 1975 print a shrink factor of .212; all digits computed with Python.
#[test]
fn baseball_by_james_stein() {
    let means: Vec<f64> = rows("baseball_1970.csv")
        .iter()
        .map(|row| number(row, "hits_of_45") / 45.0)
        .collect();
    let average = means.iter().sum::<f64>() / 18.0;
    let found = james_stein(&means, average * (1.0 - average) / 45.0).unwrap();
    assert_relative_eq!(found.grand_mean, 0.26543209876543217, max_relative = 1e-12);
    assert_relative_eq!(found.factor, 0.2116534171442659, max_relative = 1e-12);
    assert_relative_eq!(found.shrunk[0], 0.29391385489966054, max_relative = 1e-12);
    assert_relative_eq!(found.shrunk[17], 0.2421763529310622, max_relative = 1e-12);
}

/// Count, expected, weight of the first part, geometric mean, mean, 5 % and 95 % points. Computed with mpmath; the vignette of
/// R openEBGM 0.9.1 prints .2819737, 2.23, .49 and 13.85 for the first row, .3409653 and 2.58 for the second.
const MIXTURE: &[(u64, f64, [f64; 5])] = &[
    (
        1,
        0.0360548272,
        [
            0.28197373598225617,
            2.226686930197361,
            3.869045977372558,
            0.4910737607129374,
            13.856063234750335,
        ],
    ),
    (
        1,
        0.0038736591,
        [
            0.3409653462869414,
            2.5831788567646496,
            4.635285167819357,
            0.5180239881882948,
            15.785956032041732,
        ],
    ),
    (
        1,
        0.0002979738,
        [
            0.3482317373512202,
            2.6313345776007533,
            4.735052017768551,
            0.5214806731719541,
            16.01790143478525,
        ],
    ),
    (
        1,
        0.0765792610,
        [
            0.22263557391397576,
            1.920672758346703,
            3.1729320783377917,
            0.4651063963077917,
            11.773360213710383,
        ],
    ),
    (
        1,
        0.0527413588,
        [
            0.255667007437893,
            2.0852542862767804,
            3.5514719670124903,
            0.47949791810495734,
            12.956001583646827,
        ],
    ),
    (
        0,
        1.0,
        [
            0.002777102986962298,
            0.5356056692113356,
            0.7012433247568894,
            0.1260137754053211,
            1.6600040095184578,
        ],
    ),
    (
        20,
        5.0,
        [
            0.3267841955734135,
            3.439337084539841,
            3.553766923219944,
            2.259557859101362,
            5.2559981705246575,
        ],
    ),
    (
        300,
        100.0,
        [
            0.11665626078133352,
            2.9653624329217996,
            2.9703313247739582,
            2.693623560128153,
            3.258696347280587,
        ],
    ),
];

#[test]
fn mixture_of_two_gammas() {
    let first = Gamma {
        shape: 3.25379356,
        rate: 0.39988854,
    };
    let second = Gamma {
        shape: 2.02612692,
        rate: 1.90807970,
    };
    let prior = GammaMixture::new(first, second, 0.06534557).unwrap();
    for (count, expected, [weight, geometric, mean, low, high]) in MIXTURE {
        let posterior = prior.given(*count, *expected).unwrap();
        assert_relative_eq!(posterior.weight(), *weight, max_relative = 1e-8);
        assert_relative_eq!(posterior.geometric_mean(), *geometric, max_relative = 1e-8);
        assert_relative_eq!(posterior.mean(), *mean, max_relative = 1e-8);
        assert_relative_eq!(posterior.quantile(0.05).unwrap(), *low, max_relative = 1e-8);
        assert_relative_eq!(
            posterior.quantile(0.95).unwrap(),
            *high,
            max_relative = 1e-8
        );
    }
}
