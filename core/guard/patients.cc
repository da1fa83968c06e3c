#include "core/guard/patients.h"

#include <memory>
#include <utility>

#include "absl/strings/str_cat.h"
#include "core/guard/queries.h"
#include "core/guard/write.h"
#include "core/time/civil.h"

namespace ferrule::guard {
namespace {

using store::Value;

absl::Status AddRead(store::Connection& c, const Read& read) {
  const Value values[] = {Value::Int(read.read_us), Value::Text(read.principal),
                          Value::Text(read.method), Value::Text(read.resource),
                          Value::Text(read.because)};
  return c.Run(sql::kAddRead, values);
}

absl::Status NoneKept(const std::string& reference) {
  return absl::NotFoundError(absl::StrCat(
      "no particulars are kept of ", reference,
      "; check the reference, it stands in the order; they may also have been erased"));
}

}  // namespace

absl::Status Patients::Note(const Read& read) {
  return WriteAndWait(ledger_, [read](store::Connection& c) { return AddRead(c, read); });
}

void Patients::NoteLater(const Read& read) {
  ledger_.RecordBeside(
      {}, "", [read](store::Connection& c, const auto&) { return AddRead(c, read); },
      [](const absl::Status&, const auto&) {});
}

absl::StatusOr<std::vector<v1::ReadRecord>> Patients::Reads(int64_t after,
                                                            const std::string& principal,
                                                            const std::string& resource, int size) {
  std::vector<v1::ReadRecord> out;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    out.clear();
    const Value asked[] = {Value::Int(after), Value::Text(principal), Value::Text(resource),
                           Value::Int(size)};
    return connection.Run(sql::kReadsAfter, asked, [&](const store::Row& row) {
      v1::ReadRecord& read = out.emplace_back();
      read.set_number(row.Int(0));
      time::SetMicros(row.Int(1), read.mutable_time());
      read.set_principal(std::string(row.Bytes(2)));
      read.set_method(std::string(row.Bytes(3)));
      read.set_resource(std::string(row.Bytes(4)));
      read.set_because(std::string(row.Bytes(5)));
    });
  });
  if (!status.ok()) return status;
  return out;
}

absl::StatusOr<std::string> Patients::Find(const std::string& reference) {
  std::string bytes;
  bool found = false;
  absl::Status status = ledger_.WithReader([&](store::Connection& connection) {
    const Value asked[] = {Value::Text(reference)};
    return connection.Run(sql::kPatient, asked, [&](const store::Row& row) {
      found = true;
      bytes = std::string(row.Bytes(0));
    });
  });
  if (!status.ok()) return status;
  if (!found) return NoneKept(reference);
  return bytes;
}

absl::StatusOr<bool> Patients::Put(const v1::PatientParticulars& particulars, const Read& read) {
  const auto earlier = Find(particulars.patient());
  if (!earlier.ok() && earlier.status().code() != absl::StatusCode::kNotFound) {
    return earlier.status();
  }
  const auto bytes = std::make_shared<const std::string>(particulars.SerializeAsString());
  absl::Status written =
      WriteAndWait(ledger_, [bytes, reference = particulars.patient(), read](store::Connection& c) {
        const Value values[] = {Value::Text(reference), Value::Blob(*bytes)};
        absl::Status put = c.Run(sql::kPutPatient, values);
        return put.ok() ? AddRead(c, read) : put;
      });
  if (!written.ok()) return written;
  return earlier.ok();
}

absl::StatusOr<v1::PatientParticulars> Patients::Get(const std::string& reference,
                                                     const Read& read) {
  const auto bytes = Find(reference);
  if (!bytes.ok()) return bytes.status();
  v1::PatientParticulars out;
  if (!out.ParseFromString(*bytes)) {
    return absl::DataLossError("kept particulars cannot be read; restore a backup");
  }
  if (absl::Status noted = Note(read); !noted.ok()) return noted;
  return out;
}

absl::Status Patients::Erase(const std::string& reference, const Read& read) {
  if (const auto there = Find(reference); !there.ok()) return there.status();
  return WriteAndWait(ledger_, [reference, read](store::Connection& c) {
    const Value values[] = {Value::Text(reference)};
    absl::Status erased = c.Run(sql::kErasePatient, values);
    return erased.ok() ? AddRead(c, read) : erased;
  });
}

}  // namespace ferrule::guard
