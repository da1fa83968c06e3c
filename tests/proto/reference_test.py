"""The API reference out of the comments has every word in it."""

import os
import sys
import unittest

sys.path.insert(0, os.path.join(os.environ["FERRULE_SOURCE_DIR"], "proto"))
import reference  # noqa: E402


class Reference(unittest.TestCase):
    def test_every_service_method_message_field_and_value_is_on_the_page_with_its_comment(self):
        text = reference.page()
        lines = set(text.split("\n"))
        for file in reference.files():
            for service in file.service:
                self.assertIn(f"### {service.name}", lines)
                for method in service.method:
                    self.assertIn(f"| `{method.name}` |", text)
            for message in file.message_type:
                self.assertIn(f"### {message.name}", lines)
                for field in message.field:
                    self.assertIn(f"| `{field.name}` | {field.number} |", text)
            for enum in file.enum_type:
                for value in enum.value:
                    self.assertIn(f"| `{value.name}` | {value.number} |", text)
        bare = [line for line in lines if line.startswith("| `") and line.endswith("|  |")]
        self.assertEqual(bare, [])


if __name__ == "__main__":
    unittest.main()
