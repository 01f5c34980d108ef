use super::*;

const SEED: u64 = 11;

fn columns(dimension_count: usize, replicate: u32, count: usize) -> Vec<Vec<f64>> {
    let mut columns = vec![Vec::new(); dimension_count];
    Sobol::new(dimension_count, SEED, replicate)
        .unwrap()
        .block(0, count, &mut columns);
    columns
}

/// Source: the Sobol sequence of scipy 1.17 (`scipy.stats.qmc.Sobol`, no scrambling, 32 bits), times 2^32,
/// which carries the direction numbers of Joe and Kuo (2008).
#[test]
fn before_scrambling_the_points_are_those_of_a_general_library() {
    const DIMENSIONS: [usize; 7] = [0, 1, 2, 5, 20, 63, 127];
    const POINTS: [(u32, [u32; 7]); 5] = [
        (1, [2147483648; 7]),
        (
            5,
            [
                3758096384, 3758096384, 536870912, 2684354560, 2684354560, 2684354560, 536870912,
            ],
        ),
        (
            100,
            [
                1778384896, 1107296256, 3321888768, 3187671040, 3254779904, 2785017856, 1979711488,
            ],
        ),
        (
            777,
            [
                2973761536, 4022337536, 700448768, 1530920960, 1019215872, 1832910848, 507510784,
            ],
        ),
        (
            2047,
            [
                2097152, 2694840320, 3999268864, 2824863744, 1537212416, 4246732800, 94371840,
            ],
        ),
    ];
    let sobol = Sobol::new(Sobol::MOST_DIMENSIONS, 0, 0).unwrap();
    for (index, expected) in POINTS {
        for (d, expected) in DIMENSIONS.into_iter().zip(expected) {
            let digits = sobol.dimensions[d].digits(index);
            assert_eq!(digits.reverse_bits(), expected, "point {index}, dimension {d}");
        }
    }
}

/// The last direction number is reached by the 2^31st point; a full set has rank 32.
#[test]
fn the_direction_numbers_of_each_dimension_are_independent_to_the_last() {
    for d in 0..Sobol::MOST_DIMENSIONS {
        let v = directions(d).unwrap();
        // Each starts with its own digit, the k-th having k + 1 digits after the point.
        for (k, v) in v.iter().enumerate() {
            assert_eq!(31 - v.leading_zeros() as usize, k, "dimension {d}");
        }
    }
}

#[test]
fn each_coordinate_of_2_to_the_m_points_fills_each_interval_once() {
    for m in [3, 8, 11] {
        let count = 1_usize << m;
        for (d, column) in columns(Sobol::MOST_DIMENSIONS, 2, count).iter().enumerate() {
            let mut filled = vec![0; count];
            column
                .iter()
                .for_each(|u| filled[(u * count as f64) as usize] += 1);
            assert!(filled.iter().all(|&n| n == 1), "dimension {d}, 2^{m} points");
        }
    }
}

/// The first two dimensions are a (0, m, 2)-net in base 2 (Niederreiter 1987), which scrambling keeps (Owen 1997).
#[test]
fn two_dimensions_fill_every_box_of_one_points_area_once() {
    let m = 10;
    let (x, y) = {
        let mut both = columns(2, 5, 1 << m).into_iter();
        (both.next().unwrap(), both.next().unwrap())
    };
    for across in 0..=m {
        let (wide, high) = ((1_u32 << across) as f64, (1_u32 << (m - across)) as f64);
        let mut filled = vec![0; 1 << m];
        for (x, y) in x.iter().zip(&y) {
            filled[(x * wide) as usize * high as usize + (y * high) as usize] += 1;
        }
        assert!(filled.iter().all(|&n| n == 1), "2^{across} boxes across");
    }
}

/// Rms error over replicates of the mean of a product of smooth functions, whose mean is one.
fn error_of_the_mean(count: usize) -> f64 {
    let squares: f64 = (0..REPLICATES)
        .map(|replicate| {
            let columns = columns(3, replicate, count);
            let f = |i: usize| columns.iter().map(|u| (u[i] - 0.5).exp()).product::<f64>();
            let one = (0.5_f64.exp() - (-0.5_f64).exp()).powi(3);
            ((0..count).map(f).sum::<f64>() / count as f64 / one - 1.0).powi(2)
        })
        .sum();
    (squares / f64::from(REPLICATES)).sqrt()
}
const REPLICATES: u32 = 50;

/// Owen (1997): root mean square error N^−1.5 (log N)^((d − 1)/2) of a smooth function in d dimensions.
#[test]
fn the_error_of_a_smooth_mean_falls_as_the_count_to_the_power_one_and_a_half() {
    let slope = (error_of_the_mean(64) / error_of_the_mean(4096)).log2() / 6.0;
    assert!(slope > 1.3 && slope < 1.65, "{slope}");
}

/// Nested uniform scrambling (Owen 1997) flips each digit by a fair coin of its own for each start of digits.
/// Held within four standard deviations, for each coin and for each two of them.
#[test]
fn the_flips_of_the_first_digits_are_fair_and_independent() {
    const TRIALS: u32 = 4000;
    // The coins of the first four digits: level, and the digits before it.
    let nodes: Vec<(u32, u32)> = (0..4)
        .flat_map(|level| (0..1 << level).map(move |n| (level, n)))
        .collect();
    let mut sums = vec![0_i64; nodes.len()];
    let mut products = vec![0_i64; nodes.len() * nodes.len()];
    for replicate in 0..TRIALS {
        let keys = Keys::new(SEED, replicate, 3);
        let flips: Vec<i64> = nodes
            .iter()
            .map(|&(level, n)| 1 - 2 * (keys.scramble(n) >> level & 1) as i64)
            .collect();
        for (i, a) in flips.iter().enumerate() {
            sums[i] += a;
            for (j, b) in flips.iter().enumerate().skip(i + 1) {
                products[i * nodes.len() + j] += a * b;
            }
        }
    }
    let four_sd = 4.0 * f64::from(TRIALS).sqrt();
    assert!(
        sums.iter().chain(&products).all(|&s| (s.abs() as f64) < four_sd),
        "{sums:?} {products:?}"
    );
}

#[test]
fn a_block_holds_the_same_values_as_its_points_one_by_one() {
    let sobol = Sobol::new(5, 3, 1).unwrap();
    let mut point = [0.0; 5];
    let mut block = vec![vec![9.0; 3]; 5];
    for first in [0, 7, 1 << 20, u32::MAX - 40] {
        sobol.block(first, 41, &mut block);
        for i in 0..41 {
            sobol.point(first + i as u32, &mut point);
            assert!(
                block.iter().zip(point).all(|(column, u)| column[i] == u),
                "{first} {i}"
            );
        }
    }
    // Past the last point comes the first.
    sobol.block(u32::MAX, 2, &mut block);
    sobol.point(0, &mut point);
    assert!(
        block
            .iter()
            .zip(point)
            .all(|(column, u)| column.len() == 2 && column[1] == u)
    );
}

#[test]
fn replicates_seeds_and_dimensions_are_scrambled_unlike() {
    let value = |seed, replicate, d| {
        let mut point = [0.0; 2];
        Sobol::new(2, seed, replicate).unwrap().point(0, &mut point);
        point[d]
    };
    let all = [value(1, 0, 0), value(1, 1, 0), value(2, 0, 0), value(1, 0, 1)];
    for i in 0..4 {
        assert!(
            all[i] > 0.0 && all[i] < 1.0 && all[..i].iter().all(|a| (a - all[i]).abs() > 1e-6),
            "{all:?}"
        );
    }
}

#[test]
fn a_fraction_stays_inside_the_unit_interval() {
    assert_eq!(fraction(0), ULP);
    assert_eq!(fraction(u64::MAX), 1.0 - ULP);
}

#[test]
fn too_many_dimensions_are_refused() {
    assert!(Sobol::new(Sobol::MOST_DIMENSIONS + 1, 0, 0).is_none());
    assert_eq!(
        Sobol::new(Sobol::MOST_DIMENSIONS, 0, 0)
            .unwrap()
            .dimension_count(),
        Sobol::MOST_DIMENSIONS
    );
}

/// Seeded results are compared between machines and releases, so a change of these bits is a change for users.
/// The values were computed by a second program from the description alone.
#[test]
fn the_scrambled_bits_do_not_change() {
    let sobol = Sobol::new(3, 42, 7).unwrap();
    let mut point = [0.0; 3];
    sobol.point(12345, &mut point);
    assert_eq!(
        point.map(f64::to_bits),
        [4605497315432983939, 4587454031407004048, 4599881661448418618]
    );
}
