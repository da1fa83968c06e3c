// Every statement of the intake, one text for both engines.
#pragma once

#include "core/store/connection.h"

namespace ferrule::intake::sql {

inline constexpr store::Sql kMessageById{"message_by_id",
                                         "SELECT record, digest FROM messages WHERE id = $1"};
inline constexpr store::Sql kMessageContent{"message_content",
                                            "SELECT content FROM messages WHERE id = $1"};
// The next arrival is counted in the writing transaction, of which there is one at a time.
inline constexpr store::Sql kAddMessage{
    "add_message",
    "INSERT INTO messages (id, arrival, sender, state, waits_for, digest, record, content) "
    "SELECT $1, COALESCE(MAX(arrival), 0) + 1, $2, $3, $4, $5, $6, $7 FROM messages"};
inline constexpr store::Sql kPutMessage{
    "put_message", "UPDATE messages SET state = $1, waits_for = $2, record = $3 WHERE id = $4"};
inline constexpr store::Sql kEraseContent{"erase_content",
                                          "UPDATE messages SET content = NULL WHERE id = $1"};
inline constexpr store::Sql kMessagesAfter{
    "messages_after",
    "SELECT arrival, record FROM messages WHERE state = $1 AND arrival > $2 "
    "AND ($3 = '' OR sender = $3) ORDER BY arrival LIMIT $4"};
inline constexpr store::Sql kWaitingFor{
    "messages_waiting_for",
    "SELECT record FROM messages WHERE waits_for = $1 AND waits_for <> '' AND state = 2 "
    "ORDER BY arrival LIMIT 1000"};

inline constexpr store::Sql kOrderOfNumber{
    "order_of_number", "SELECT order_id FROM intake_orders WHERE issuer = $1 AND number = $2"};
inline constexpr store::Sql kOrdersOfContent{
    "orders_of_content",
    "SELECT DISTINCT order_id FROM intake_orders WHERE content_key = $1 AND content_key <> ''"};
inline constexpr store::Sql kOrdersOfPatient{
    "orders_of_patient",
    "SELECT DISTINCT order_id FROM intake_orders WHERE patient = $1 AND patient <> ''"};
inline constexpr store::Sql kPutOrder{
    "put_intake_order",
    "INSERT INTO intake_orders (issuer, number, order_id, patient, content_key) "
    "VALUES ($1, $2, $3, $4, $5) ON CONFLICT (issuer, number) DO UPDATE SET "
    "order_id = excluded.order_id, patient = CASE WHEN excluded.patient = '' "
    "THEN intake_orders.patient ELSE excluded.patient END, content_key = CASE WHEN "
    "excluded.content_key = '' THEN intake_orders.content_key ELSE excluded.content_key END"};

inline constexpr store::Sql kImport{
    "import_by_id",
    "SELECT offset_bytes, next_line, read_count, accepted_count, repeated_count, queued_count, "
    "rejected_count, update_us FROM imports WHERE id = $1"};
// A part that comes again does not count again: only what lies beyond adds up.
inline constexpr store::Sql kPutImport{
    "put_import",
    "INSERT INTO imports (id, offset_bytes, next_line, read_count, accepted_count, "
    "repeated_count, queued_count, rejected_count, update_us) "
    "VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (id) DO UPDATE SET "
    "read_count = imports.read_count + excluded.read_count, "
    "accepted_count = imports.accepted_count + excluded.accepted_count, "
    "repeated_count = imports.repeated_count + excluded.repeated_count, "
    "queued_count = imports.queued_count + excluded.queued_count, "
    "rejected_count = imports.rejected_count + excluded.rejected_count, "
    "offset_bytes = excluded.offset_bytes, next_line = excluded.next_line, "
    "update_us = excluded.update_us WHERE imports.offset_bytes < excluded.offset_bytes"};

inline constexpr store::Sql kSecret{"intake_secret", "SELECT salt FROM intake_secret WHERE id = 1"};
inline constexpr store::Sql kPutSecret{
    "put_intake_secret",
    "INSERT INTO intake_secret (id, salt) VALUES (1, $1) ON CONFLICT (id) DO NOTHING"};

}  // namespace ferrule::intake::sql
