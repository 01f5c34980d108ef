//! The vector registers of x86-64 as lanes: the instructions behind [`Vector`], 256 and 512 bits wide.

use super::super::lanes::{
    MAGIC, Vector, polished_quotient, polished_root, rough_round, some_of, some_of_mut,
};
use super::super::stages::Cells;
use std::arch::x86_64::*;

/// A register of `$lanes` numbers: what the widths have in common, and in braces what each has for itself.
///
/// Every `unsafe` is sound for one reason: none of these types is seen outside `dispatch`, which uses them only
/// in functions that enable their features, and those run only where the features were found.
macro_rules! register {
    (
        $(#[$doc:meta])*
        $name:ident($raw:ty), $lanes:literal lanes, mask $mask:ty,
        $add:ident $sub:ident $mul:ident $splat:ident $load:ident $store:ident
        $fused:ident $fused_less:ident $min:ident $max:ident
        { $($own:item)* }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug)]
        pub(super) struct $name<const FAST: bool>($raw);

        impl<const FAST: bool> std::ops::Add for $name<FAST> {
            type Output = Self;
            #[inline(always)]
            fn add(self, b: Self) -> Self {
                Self(unsafe { $add(self.0, b.0) })
            }
        }

        impl<const FAST: bool> std::ops::Sub for $name<FAST> {
            type Output = Self;
            #[inline(always)]
            fn sub(self, b: Self) -> Self {
                Self(unsafe { $sub(self.0, b.0) })
            }
        }

        impl<const FAST: bool> std::ops::Mul for $name<FAST> {
            type Output = Self;
            #[inline(always)]
            fn mul(self, b: Self) -> Self {
                Self(unsafe { $mul(self.0, b.0) })
            }
        }

        impl<const FAST: bool> std::ops::Neg for $name<FAST> {
            type Output = Self;
            #[inline(always)]
            fn neg(self) -> Self {
                Self::splat(-0.0) - self
            }
        }

        impl<const FAST: bool> Vector for $name<FAST> {
            type Mask = $mask;
            const LANES: usize = $lanes;

            #[inline(always)]
            fn splat(x: f64) -> Self {
                Self(unsafe { $splat(x) })
            }

            #[inline(always)]
            fn load(cells: &Cells, first: usize) -> Self {
                let some: &[f64; $lanes] = some_of(cells, first);
                // The numbers are there, and no alignment is asked for.
                Self(unsafe { $load(some.as_ptr()) })
            }

            #[inline(always)]
            fn store(self, cells: &mut Cells, first: usize) {
                let some: &mut [f64; $lanes] = some_of_mut(cells, first);
                unsafe { $store(some.as_mut_ptr(), self.0) }
            }

            #[inline(always)]
            fn ma(self, b: Self, c: Self) -> Self {
                if FAST { Self(unsafe { $fused(self.0, b.0, c.0) }) } else { self * b + c }
            }

            #[inline(always)]
            fn nma(self, b: Self, c: Self) -> Self {
                if FAST { Self(unsafe { $fused_less(self.0, b.0, c.0) }) } else { c - self * b }
            }

            #[inline(always)]
            fn min(self, other: Self) -> Self {
                Self(unsafe { $min(self.0, other.0) })
            }

            #[inline(always)]
            fn max(self, other: Self) -> Self {
                Self(unsafe { $max(self.0, other.0) })
            }

            $($own)*
        }
    };
}

register! {
    /// Eight lanes in a register.
    Register512(__m512d), 8 lanes, mask __mmask8,
    _mm512_add_pd _mm512_sub_pd _mm512_mul_pd _mm512_set1_pd _mm512_loadu_pd _mm512_storeu_pd
    _mm512_fmadd_pd _mm512_fnmadd_pd _mm512_min_pd _mm512_max_pd
    {
        #[inline(always)]
        fn abs(self) -> Self {
            Self(unsafe { _mm512_abs_pd(self.0) })
        }

        #[inline(always)]
        fn root(self) -> Self {
            if FAST {
                // The estimate is good to 2^-14.
                let y = Self(unsafe { _mm512_rsqrt14_pd(self.0) });
                polished_root(self, y)
            } else {
                Self(unsafe { _mm512_sqrt_pd(self.0) })
            }
        }

        #[inline(always)]
        fn over(self, b: Self) -> Self {
            if FAST {
                // The estimate is good to 2^-14.
                let y = Self(unsafe { _mm512_rcp14_pd(b.0) });
                polished_quotient(self, b, y)
            } else {
                Self(unsafe { _mm512_div_pd(self.0, b.0) })
            }
        }

        #[inline(always)]
        fn rough_inverse_root(self) -> Self {
            if FAST {
                return Self(unsafe { _mm512_rsqrt14_pd(self.0) });
            }
            let y = unsafe {
                let shifted = _mm512_srli_epi64::<1>(_mm512_castpd_si512(self.0));
                _mm512_castsi512_pd(_mm512_sub_epi64(_mm512_set1_epi64(MAGIC), shifted))
            };
            rough_round(self, Self(y))
        }

        #[inline(always)]
        fn lt(self, other: Self) -> __mmask8 {
            unsafe { _mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, other.0) }
        }

        #[inline(always)]
        fn le(self, other: Self) -> __mmask8 {
            unsafe { _mm512_cmp_pd_mask::<_CMP_LE_OQ>(self.0, other.0) }
        }

        #[inline(always)]
        fn both(a: __mmask8, b: __mmask8) -> __mmask8 {
            a & b
        }

        #[inline(always)]
        fn either(a: __mmask8, b: __mmask8) -> __mmask8 {
            a | b
        }

        #[inline(always)]
        fn not(a: __mmask8) -> __mmask8 {
            !a
        }

        #[inline(always)]
        fn pick(mask: __mmask8, yes: Self, no: Self) -> Self {
            Self(unsafe { _mm512_mask_blend_pd(mask, no.0, yes.0) })
        }

        #[inline(always)]
        fn any(mask: __mmask8) -> bool {
            mask != 0
        }
    }
}

register! {
    /// Four lanes in a register.
    Register256(__m256d), 4 lanes, mask __m256d,
    _mm256_add_pd _mm256_sub_pd _mm256_mul_pd _mm256_set1_pd _mm256_loadu_pd _mm256_storeu_pd
    _mm256_fmadd_pd _mm256_fnmadd_pd _mm256_min_pd _mm256_max_pd
    {
        #[inline(always)]
        fn abs(self) -> Self {
            Self(unsafe { _mm256_andnot_pd(_mm256_set1_pd(-0.0), self.0) })
        }

        #[inline(always)]
        fn root(self) -> Self {
            Self(unsafe { _mm256_sqrt_pd(self.0) })
        }

        #[inline(always)]
        fn over(self, b: Self) -> Self {
            Self(unsafe { _mm256_div_pd(self.0, b.0) })
        }

        #[inline(always)]
        fn rough_inverse_root(self) -> Self {
            let y = unsafe {
                let shifted = _mm256_srli_epi64::<1>(_mm256_castpd_si256(self.0));
                _mm256_castsi256_pd(_mm256_sub_epi64(_mm256_set1_epi64x(MAGIC), shifted))
            };
            rough_round(self, Self(y))
        }

        #[inline(always)]
        fn lt(self, other: Self) -> __m256d {
            unsafe { _mm256_cmp_pd::<_CMP_LT_OQ>(self.0, other.0) }
        }

        #[inline(always)]
        fn le(self, other: Self) -> __m256d {
            unsafe { _mm256_cmp_pd::<_CMP_LE_OQ>(self.0, other.0) }
        }

        #[inline(always)]
        fn both(a: __m256d, b: __m256d) -> __m256d {
            unsafe { _mm256_and_pd(a, b) }
        }

        #[inline(always)]
        fn either(a: __m256d, b: __m256d) -> __m256d {
            unsafe { _mm256_or_pd(a, b) }
        }

        #[inline(always)]
        fn not(a: __m256d) -> __m256d {
            unsafe { _mm256_xor_pd(a, _mm256_castsi256_pd(_mm256_set1_epi64x(-1))) }
        }

        #[inline(always)]
        fn pick(mask: __m256d, yes: Self, no: Self) -> Self {
            Self(unsafe { _mm256_blendv_pd(no.0, yes.0, mask) })
        }

        #[inline(always)]
        fn any(mask: __m256d) -> bool {
            unsafe { _mm256_movemask_pd(mask) != 0 }
        }
    }
}
