// SPDX-License-Identifier: MIT
//
// How much of the long tests a build does. With sanitizers each case takes several times as long,
// so that build does a share; every other build does all.
#pragma once

namespace padwalk::test {

#ifdef PADWALK_SANITIZE
/// Of the cases of a long loop every so many are done.
inline constexpr unsigned kEvery = 3;
/// A tag for what is left out where there are sanitizers.
#define PADWALK_WHOLE_ONLY "[.]"
#else
inline constexpr unsigned kEvery = 1;
#define PADWALK_WHOLE_ONLY ""
#endif

}  // namespace padwalk::test
