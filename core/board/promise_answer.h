// "Can I have a left shoulder on the 14th?": yes, likely with the odds, or no with the earliest day
// and the branch that can; and the facts that would make the promise.
#pragma once

#include <cstdint>

#include "absl/status/statusor.h"
#include "core/board/promise_pool.h"
#include "ferrule/v1/promise_service.pb.h"

namespace ferrule::board {

// InvalidArgument when neither an order nor class, branch and day are given, or a day lies in the
// past; NotFound for an order, a branch or a class that is not on the records;
// FailedPrecondition for an order that is cancelled, over or on rent.
absl::StatusOr<v1::AssessPromiseResponse> AssessPromise(ledger::Ledger& ledger, PromiseDesk& desk,
                                                        const v1::AssessPromiseRequest& request,
                                                        int64_t now_us);

// Odds in thousandths, rounded down, so that what is told is never more than what is known.
int Permille(double odds);

// Odds from which the answer is yes and below which it is no.
struct Verdicts {
  double yes_from = 0.95;
  double no_below = 0.5;
};
Verdicts VerdictsOf(const depot::Rules& rules);

// The facts by which a promise changes its unit: the release, then the promise on the other one.
// `at_us` is their true time.
void AddChange(const v1::StandingPromise& promise, const PoolView::Unit& to, int64_t at_us,
               google::protobuf::RepeatedPtrField<v1::Fact>* facts);
// A promise with that unit's standing.
void AddPromised(const v1::StandingPromise& promise, const PoolView::Unit& unit, int64_t at_us,
                 google::protobuf::RepeatedPtrField<v1::Fact>* facts);
// The release of a promise.
void AddRelease(const std::string& unit, const std::string& order, const std::string& reason,
                int64_t at_us, google::protobuf::RepeatedPtrField<v1::Fact>* facts);

}  // namespace ferrule::board
