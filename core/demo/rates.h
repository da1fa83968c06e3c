// The rates of the synthetic depot, each with its standing: "published" with where, "common
// practice, no source", or "chosen freely" within what the trade would find believable.
#pragma once

#include <array>

namespace ferrule::demo::rates {

// --- Demand -------------------------------------------------------------------------------------

// Share of surgeries by weekday, Monday first. Published: 80 % Monday to Wednesday among 10,576 hip
// and knee replacements (doi 10.1080/17453674.2020.1844946); weekend share 0.37 % of 586,285
// knee replacements (doi 10.1055/a-2555-1791). The split within each part is chosen freely.
inline constexpr std::array<double, 7> kSurgeryWeekday = {0.28,   0.27,   0.25,  0.12,
                                                          0.0763, 0.0022, 0.0015};

// Share of a year's surgeries by month, percent. Published: 8.3 million hip and knee replacements
// in the United States (PubMed 35669461); December is the difference to 100.
inline constexpr std::array<double, 12> kMonthShare = {9.17, 8.19, 8.57, 8.43, 8.15, 9.00,
                                                       8.28, 8.27, 8.31, 8.59, 7.83, 7.21};

// Nights in hospital, 0 to 8. Shaped to a published mean of 1.9 and standard deviation of 1.8 days
// (doi 10.1080/17453674.2020.1844946): this table gives 1.93 and 1.82.
inline constexpr std::array<double, 9> kStayNights = {0.14, 0.38, 0.24,  0.11, 0.05,
                                                      0.03, 0.02, 0.012, 0.018};

// Days from order to surgery by band {1-3, 4-7, 8-14, 15-30, 31-60}. Chosen freely.
inline constexpr std::array<double, 5> kLeadBand = {0.12, 0.20, 0.28, 0.28, 0.12};
inline constexpr std::array<int, 6> kLeadBandFrom = {1, 4, 8, 15, 31, 61};

// Surgeries cancelled once ordered. Published: 4.3 % of 11,670 (doi 10.1016/j.arth.2020.09.006)
// and 5.4 % of 18,508 (doi 10.21203/rs.3.rs-2788518/v1).
inline constexpr double kCancelled = 0.048;
// Days before the surgery: by the patient and for medical reasons. Published means 18.1 and 8.6
// (doi 10.1016/j.arth.2020.09.006); which of the two, half and half, is chosen freely.
inline constexpr int kPatientCancelDays = 18;
inline constexpr int kMedicalCancelDays = 9;
// Share of the cancelled done later, and the mean delay in days. Published: 77 % and 165 days
// (doi 10.1016/j.arth.2020.09.006).
inline constexpr double kRebooked = 0.77;
inline constexpr int kRebookDays = 165;
// Surgeries moved to another day while still standing. Chosen freely.
inline constexpr double kMoved = 0.10;
// Of those, moved to an earlier day. Chosen freely.
inline constexpr double kMovedEarlier = 0.2;

// First sides followed by the second side of the same patient later on. Published: 29.4 % of
// 231,119 knee patients had both sides done (abjs.mums.ac.ir article 23751), which counts both
// sides at once and staged; this many staged is a chosen share of it.
inline constexpr double kStagedSecondSide = 0.25;
// Weeks between the sides by band {4-12, 13-26, 27-52, 53-104}. Published: 54/96/75/41 of 266 in
// bands of 1-6, 6-12, 12-18 and 18-24 months (doi 10.1186/s12893-024-02442-y) and half within 12
// months of 86 (PubMed 23665122); the split of the first year is chosen freely.
inline constexpr std::array<double, 4> kSecondSideBand = {0.20, 0.15, 0.25, 0.40};
inline constexpr std::array<int, 5> kSecondSideWeekFrom = {4, 13, 27, 53, 105};
// Both sides on one day. Chosen freely.
inline constexpr double kBothSidesAtOnce = 0.03;

// Orders that come in without something that must be there before going out. Chosen freely.
inline constexpr double kIncompleteOrder = 0.08;
// Orders with a payer's authorisation, and knee orders whose cover ends after three weeks. The
// three weeks are published (NCD 280.1); the shares are chosen freely.
inline constexpr double kHasAuthorisation = 0.55;
inline constexpr double kKneeCoverEnd = 0.45;
inline constexpr int kKneeCoverDays = 21;

// Share of the fleet that demand would keep busy if nothing were refused. Chosen freely.
inline constexpr double kOfferedLoad = 0.86;

// --- Rentals ------------------------------------------------------------------------------------

// Deliveries that fail at the door. Chosen freely.
inline constexpr double kDeliveryFailed = 0.03;
// In-home exchanges: 1-3 % of rentals; common practice, no source.
inline constexpr double kExchanged = 0.02;
// Extensions: 15-25 % of rentals, a third of them late; common practice, no source.
inline constexpr double kExtended = 0.20;
inline constexpr double kExtendedLate = 1.0 / 3;
// Pick-up days agreed by telephone. Chosen freely.
inline constexpr double kPickupAgreed = 0.6;
// Days from due date to pick-up: 1-4 as a rule, 3-6 % beyond 14; common practice, no source.
inline constexpr std::array<double, 4> kPickupDelay = {0.42, 0.30, 0.17, 0.11};  // 1 to 4 days
inline constexpr double kPickupBeyond14 = 0.045;
// Pick-ups that fail at the door. Chosen freely.
inline constexpr double kPickupFailed = 0.08;
// Use a day, hours: 2-6; common practice, no source.
inline constexpr double kUseHoursLeast = 2.0;
inline constexpr double kUseHoursMost = 6.0;
// Returns with an accessory missing: 4-8 %; common practice, no source.
inline constexpr double kAccessoryMissing = 0.06;
// Units lost a year: 0.5-2 %; common practice, no source. Half of them in homes, half in the
// depot; a third turn up again (both chosen freely).
inline constexpr double kLostPerUnitYear = 0.012;
inline constexpr double kFoundAgain = 0.34;
// Returns dropped at another branch. Chosen freely.
inline constexpr double kDroppedElsewhere = 0.005;
// Returns with an alleged injury, with insects, with blood or body fluid. Chosen freely.
inline constexpr double kIncident = 0.002;
inline constexpr double kInfested = 0.004;
inline constexpr double kContaminated = 0.004;

// --- Turnaround ---------------------------------------------------------------------------------

// Working days from receipt to cleaning {0, 1, 2}: with inspection the same or the next day the
// turnaround is 1-3 working days; common practice, no source.
inline constexpr std::array<double, 3> kCleaningDelay = {0.25, 0.55, 0.20};
inline constexpr double kInspectedNextDay = 0.35;
// Contact time cut short and done again. Chosen freely.
inline constexpr double kWetTimeShort = 0.015;
// First-pass yield of the inspection: 85-93 %; common practice, no source.
inline constexpr double kFirstPassYield = 0.89;
inline constexpr double kRetestYield = 0.96;
// Working days on the repair bench {0, 1, 2, 3-5, 6-15 waiting for a part}. Chosen freely.
inline constexpr std::array<double, 5> kRepairDays = {0.30, 0.28, 0.17, 0.15, 0.10};
// Repairs with a part changed, with the part taken from another unit under repair, and those
// changing the controller and so the meter. Chosen freely.
inline constexpr double kPartChanged = 0.45;
inline constexpr double kCannibalised = 0.15;
inline constexpr double kControllerShare = 0.30;
inline constexpr double kOldMeterUnread = 0.1;
// No fault found. Chosen freely.
inline constexpr double kNoFaultFound = 0.18;
// Recalls a year, each on a share of one model. Chosen freely.
inline constexpr double kRecallsPerYear = 1.0;
inline constexpr double kRecallShare = 0.3;

// --- Records ------------------------------------------------------------------------------------

// Entries of a rep's handheld made without a connection, and those of them that arrive a day or
// more later. Chosen freely.
inline constexpr double kOffline = 0.18;
inline constexpr double kOfflineDays = 0.12;
// Returns that reach the dock before the pick-up does. Chosen freely.
inline constexpr double kReturnedBeforePickup = 0.006;
// Typing mistakes that are reversed. Chosen freely.
inline constexpr double kMistyped = 0.006;
// Hand-overs recorded afterwards with something wrong in them, and how many of the questions are
// answered. Chosen freely.
inline constexpr double kFlawedHandOver = 0.006;
inline constexpr double kQuestionAnswered = 0.75;
// Hand-overs with an item of soft goods to follow, which a named person takes on. Chosen freely.
inline constexpr double kKitToFollow = 0.004;

}  // namespace ferrule::demo::rates
