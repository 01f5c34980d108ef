use super::*;
use crate::numerics::checks;
use crate::numerics::one_way::one_way;
use crate::numerics::random::Stream;

fn grouped(groups: &[Vec<f64>]) -> (Vec<f64>, Block) {
    let target = groups.concat();
    let of: Vec<Option<usize>> = groups
        .iter()
        .enumerate()
        .flat_map(|(i, g)| vec![Some(i); g.len()])
        .collect();
    (target, Block::groups(groups.len(), &of))
}

/// Source: restricted likelihood maximised outside with dense matrices, in the checks.
#[test]
fn the_most_likely_variances_are_those_of_the_reference() {
    let mut seen = 0;
    for file in checks::files("statistics") {
        let components = &file["statistics"]["variance_components"];
        let tolerance = components["tol_rel"].as_f64().unwrap();
        for (name, case) in components.as_object().unwrap() {
            let expected = &case["reml"];
            if expected.is_null() {
                continue;
            }
            let groups: Vec<Vec<f64>> = case["groups"]
                .as_array()
                .unwrap()
                .iter()
                .map(|g| {
                    g.as_array()
                        .unwrap()
                        .iter()
                        .map(|x| x.as_f64().unwrap())
                        .collect()
                })
                .collect();
            let (target, block) = grouped(&groups);
            let fit = MixedModel::new(&target, &[block]).unwrap().reml(&[]).unwrap();
            let sigma2 = expected["sigma2"].as_f64().unwrap();
            for (what, got, expected, least) in [
                ("mu", fit.mean, &expected["mu"], 0.0),
                ("sigma2", fit.sigma.powi(2), &expected["sigma2"], 0.0),
                // A variance of zero is compared on the scale of the other.
                ("tau2", fit.taus[0].powi(2), &expected["tau2"], sigma2),
                (
                    "likelihood",
                    fit.log_likelihood,
                    &expected["restricted_loglik"],
                    0.0,
                ),
            ] {
                let expected = expected.as_f64().unwrap();
                assert!(
                    (got - expected).abs() <= tolerance * expected.abs().max(least),
                    "{name} {what}: {got} {expected}"
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 0);
}

/// Balanced groups: the restricted likelihood gives (MSB − MSW)/n and MSW, a known identity [searle-1992].
#[test]
fn balanced_groups_give_the_estimates_of_the_analysis_of_variance() {
    let groups = vec![
        vec![1.0, 1.3, 0.8],
        vec![2.5, 2.2, 2.9],
        vec![1.6, 1.1, 1.5],
        vec![0.2, 0.5, 0.1],
    ];
    let (target, block) = grouped(&groups);
    let fit = MixedModel::new(&target, &[block]).unwrap().reml(&[]).unwrap();
    let anova = one_way(&groups).unwrap();
    assert!((fit.sigma.powi(2) / anova.ms_within - 1.0).abs() < 1e-5);
    assert!((fit.taus[0].powi(2) / anova.tau2 - 1.0).abs() < 1e-5);
}

/// Best guesses of balanced groups are shrunk by n τ²/(n τ² + σ²), a known result.
#[test]
fn effects_are_shrunk_towards_zero_by_the_known_share() {
    let groups = vec![vec![1.0, 2.0], vec![3.0, 3.5], vec![-1.0, -0.5]];
    let (target, block) = grouped(&groups);
    let fit = MixedModel::new(&target, &[block]).unwrap().reml(&[]).unwrap();
    let (t, s) = (2.0 * fit.taus[0].powi(2), fit.sigma.powi(2));
    let mean = target.iter().sum::<f64>() / 6.0;
    for (effect, group) in fit.effects[0].iter().zip(&groups) {
        let raw = (group[0] + group[1]) / 2.0 - mean;
        assert!((effect - raw * t / (t + s)).abs() < 1e-9, "{effect}");
    }
}

/// A column with a known, very wide prior is an ordinary regression; with a very narrow one it is not there.
#[test]
fn a_known_prior_goes_from_no_column_to_plain_regression() {
    let x: Vec<f64> = (0..12).map(f64::from).collect();
    let target: Vec<f64> = x.iter().map(|x| 2.0 + 0.3 * x + 0.1 * (3.0 * x).sin()).collect();
    let slope = |sd| {
        let block = Block {
            columns: vec![x.clone()],
            known_sd: Some(sd),
        };
        let fit = MixedModel::new(&target, &[block]).unwrap().reml(&[]).unwrap();
        (fit.effects[0][0], fit.effect_sds[0][0])
    };
    let design: Vec<f64> = x.iter().flat_map(|x| [1.0, *x]).collect();
    let plain = crate::numerics::linear_fit::least_squares(12, 2, &design, &target).unwrap();
    let (wide, doubt) = slope(1e4);
    assert!((wide / plain.coefficients[1] - 1.0).abs() < 1e-6);
    assert!((doubt / plain.standard_errors[1] - 1.0).abs() < 1e-5, "{doubt}");
    assert!(slope(1e-6).0.abs() < 1e-6);
}

/// The profile must cover about as often as it says; with two crossed sources of different size.
#[test]
fn profile_intervals_of_two_crossed_sources_cover() {
    let (mut random, runs) = (Stream::new(11, 0), 30);
    let mut covered = [0; 2];
    for _ in 0..runs {
        let truth = [0.8, 0.4];
        let piece: Vec<f64> = (0..8).map(|_| truth[0] * random.normal()).collect();
        let session: Vec<f64> = (0..6).map(|_| truth[1] * random.normal()).collect();
        let places: Vec<(usize, usize)> = (0..48).map(|i| (i % 8, i / 8)).collect();
        let target: Vec<f64> = places
            .iter()
            .map(|(p, s)| piece[*p] + session[*s] + random.normal())
            .collect();
        let of = |f: fn(&(usize, usize)) -> usize| places.iter().map(|x| Some(f(x))).collect::<Vec<_>>();
        let blocks = [Block::groups(8, &of(|x| x.0)), Block::groups(6, &of(|x| x.1))];
        let model = MixedModel::new(&target, &blocks).unwrap();
        let best = model.reml(&[]).unwrap();
        for (b, truth) in truth.into_iter().enumerate() {
            let [low, high] = model.profile_interval(&best, b, 3.84);
            assert!(low <= best.taus[b] && best.taus[b] <= high);
            covered[b] += i32::from(low <= truth && truth <= high);
        }
    }
    assert!(covered.iter().all(|c| *c >= 26), "{covered:?} of {runs}");
}

#[test]
fn models_that_cannot_be_fitted_are_refused() {
    let block = |rows| Block::groups(2, &vec![Some(0); rows]);
    assert!(MixedModel::new(&[1.0], &[block(1)]).is_none());
    assert!(MixedModel::new(&[1.0, 2.0], &[block(3)]).is_none());
    assert!(MixedModel::new(&[1.0, f64::NAN], &[block(2)]).is_none());
    assert!(
        MixedModel::new(&[1.0, 1.0], &[block(2)])
            .unwrap()
            .reml(&[])
            .is_none()
    );
    let empty = MixedModel::new(&[1.0, 2.0, 4.0], &[Block::groups(0, &[None; 3])]).unwrap();
    let fit = empty.reml(&[]).unwrap();
    assert!((fit.sigma.powi(2) - 7.0 / 3.0).abs() < 1e-5 && fit.taus == [0.0]);
}
