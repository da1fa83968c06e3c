// Week dates and days off with their sources, for the calendar's tests and for the program's.
#pragma once

#include <array>
#include <utility>
#include <vector>

namespace ferrule::testing {

// ISO 8601-1:2019, week dates around the turns of the years; computed with Python's isocalendar.
inline constexpr std::array<std::pair<const char*, const char*>, 15> kWeekDates = {{
    {"2005-01-01", "2004-W53-6"},
    {"2005-01-02", "2004-W53-7"},
    {"2005-12-31", "2005-W52-6"},
    {"2006-01-01", "2005-W52-7"},
    {"2007-01-01", "2007-W01-1"},
    {"2007-12-31", "2008-W01-1"},
    {"2008-12-28", "2008-W52-7"},
    {"2008-12-29", "2009-W01-1"},
    {"2009-12-31", "2009-W53-4"},
    {"2010-01-03", "2009-W53-7"},
    {"2020-12-31", "2020-W53-4"},
    {"2021-01-03", "2020-W53-7"},
    {"2026-01-01", "2026-W01-4"},
    {"2026-12-31", "2026-W53-4"},
    {"2027-01-03", "2026-W53-7"},
}};

struct DaysOffOfYear {
  int year;
  std::vector<const char*> days;
};

// The lists of 2023 and 2024 as courts publish them (okwb.uscourts.gov, okep.uscourts.gov).
inline const std::array<DaysOffOfYear, 2> kPublishedDaysOff = {{
    {2023,
     {"2023-01-02", "2023-01-16", "2023-02-20", "2023-05-29", "2023-06-19", "2023-07-04",
      "2023-09-04", "2023-10-09", "2023-11-10", "2023-11-23", "2023-12-25"}},
    {2024,
     {"2024-01-01", "2024-01-15", "2024-02-19", "2024-05-27", "2024-06-19", "2024-07-04",
      "2024-09-02", "2024-10-14", "2024-11-11", "2024-11-28", "2024-12-25"}},
}};

// Computed by the rule of 5 U.S.C. 6103 and E.O. 11582: Saturday to Friday, Sunday to Monday, over
// the turn of the year, too. Not the whole year.
inline const std::array<DaysOffOfYear, 6> kHardDaysOff = {{
    {2021, {"2021-06-18", "2021-07-05", "2021-12-24", "2021-12-31"}},
    {2022, {"2022-06-20", "2022-12-26"}},
    {2023, {"2023-01-02"}},
    {2026, {"2026-07-03"}},
    {2027, {"2027-06-18", "2027-07-05", "2027-12-24", "2027-12-31"}},
    {2028, {"2028-11-10"}},
}};

}  // namespace ferrule::testing
