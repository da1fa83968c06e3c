// Asks for measures of records put together by hand.
#pragma once

#include <string>

#include "core/outlook/measures.h"
#include "gtest/gtest.h"
#include "tests/core/outlook/built_records.h"

namespace ferrule::outlook {

// Days [first, last] counted from kDay0.
inline v1::ReportMeasuresRequest Window(int64_t first, int64_t last,
                                        const std::string& measure = "") {
  v1::ReportMeasuresRequest request;
  *request.mutable_from_date() = time::FromDay(time::DayFromNumber(kDay0 + first));
  *request.mutable_through_date() = time::FromDay(time::DayFromNumber(kDay0 + last));
  request.set_measure(measure);
  request.set_explain(true);
  return request;
}

inline v1::Measure Only(BuiltRecords& built, const v1::ReportMeasuresRequest& request,
                        int64_t at_us) {
  const auto response = Measures(built.AsOf(at_us), request, at_us);
  EXPECT_TRUE(response.ok()) << response.status();
  EXPECT_EQ(response->measures_size(), 1);
  return response->measures(0);
}

}  // namespace ferrule::outlook
