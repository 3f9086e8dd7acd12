"""XML held against the schemas beside the repository, by two engines, and against rules written in Schematron.

The published rules are written for a schema-aware XSLT 2 engine. They are read here as they stand and their XPath is
evaluated by elementpath; a rule that goes over the network, or names an element the schema does not have, is counted
and left out.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from pathlib import Path
from typing import Any

from lxml import etree

from tests.standards.conftest import standard

_SCH = "{http://purl.oclc.org/dsdl/schematron}"
_PLACES = {
    "http://schemas.opengis.net/": "waterml-xsd/ogc/",
    "https://schemas.opengis.net/": "waterml-xsd/ogc/",
    "http://www.w3.org/1999/": "waterml-xsd/w3c/1999/",
    "http://www.w3.org/2001/": "waterml-xsd/w3c/2001/",
}


def beside(url: str) -> str:
    """The file that stands for an address; no test asks the network."""
    for start, place in _PLACES.items():
        if url.startswith(start):
            return str(standard(place) / url[len(start) :])
    return url


class _Beside(etree.Resolver):
    def resolve(self, system_url: str | None, public_id: str | None, context: Any) -> Any:
        if system_url is not None and beside(system_url) != system_url:
            return self.resolve_filename(beside(system_url), context)
        return None


@lru_cache(maxsize=4)
def libxml2_schema(path: str) -> etree.XMLSchema:
    """A schema as libxml2 has it."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Beside())
    return etree.XMLSchema(etree.parse(str(standard(path)), parser))


@lru_cache(maxsize=4)
def python_schema(path: str) -> Any:
    """A schema as the second engine has it."""
    import xmlschema

    return xmlschema.XMLSchema10(str(standard(path)), allow="local", uri_mapper=beside)


def libxml2_faults(schema: str, document: Path) -> list[str]:
    """What the first engine holds against a document."""
    first = libxml2_schema(schema)
    first.validate(etree.parse(str(document)))
    return [f"libxml2: {error.line}: {error.message}" for error in first.error_log]


def schema_faults(schema: str, document: Path) -> list[str]:
    """What two engines hold against a document."""
    found = libxml2_faults(schema, document)
    return found + [f"xmlschema: {e.path}: {e.reason}" for e in python_schema(schema).iter_errors(str(document))]


def rule_faults(schema: str, rules: str, document: Path) -> tuple[list[str], Counter[str]]:
    """What the rules hold against a document, and how many passed, failed, or could not be asked."""
    tree, counted, faults = etree.parse(str(document)), Counter[str](), list[str]()
    for path in sorted(standard(rules).glob("*.sch")):
        if "categorical" in path.name:
            continue
        root = etree.parse(str(path)).getroot()
        names = {str(e.get("prefix")): str(e.get("uri")) for e in root.iter(f"{_SCH}ns")}
        for rule in root.iter(f"{_SCH}rule"):
            for node in _nodes(tree, str(rule.get("context")), names):
                for said in _rule(rule, node, tree, names, schema, counted):
                    faults.append(f"{path.name}: {tree.getpath(node)[-80:]}: {said}")
    return faults, counted


def _nodes(tree: Any, context: str, names: dict[str, str]) -> list[Any]:
    import elementpath
    from elementpath.xpath2 import XPath2Parser

    path = context if context.startswith(("/", ".")) else f"//{context}"
    return list(elementpath.Selector(path, namespaces=names, parser=XPath2Parser).select(tree))


def _rule(rule: Any, node: Any, tree: Any, names: dict[str, str], schema: str, counted: Counter[str]) -> list[str]:
    from elementpath import ElementPathError, XPathContext
    from elementpath.xpath2 import XPath2Parser
    from xmlschema.xpath import XMLSchemaProxy

    proxy, variables, faults = XMLSchemaProxy(python_schema(schema)), dict[str, Any](), list[str]()
    for let in rule.findall(f"{_SCH}let"):
        token = XPath2Parser(namespaces=names).parse(let.get("value"))
        variables[str(let.get("name"))] = token.evaluate(XPathContext(tree, item=node, variables=variables))
    for check in rule:
        if check.tag not in (f"{_SCH}assert", f"{_SCH}report"):
            continue
        test = " ".join(str(check.get("test")).split())
        if "document(" in test:
            counted["over the network"] += 1
            continue
        try:
            token = XPath2Parser(namespaces=names, schema=proxy).parse(test)
            true = bool(token.evaluate(XPathContext(tree, item=node, variables=variables, schema=proxy)))
        except ElementPathError:
            counted["cannot be asked"] += 1
            continue
        good = true if check.tag == f"{_SCH}assert" else not true
        counted["passed" if good else "failed"] += 1
        faults += [] if good else [test[:140]]
    return faults
