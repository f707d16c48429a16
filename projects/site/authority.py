"""The workshop's own certificate authority, made once, and the server's certificate that it signs.

Three files in a folder that only its owner reads: key and certificate of the authority, and the server's key with its
certificate. The authority may vouch for this machine's names and for addresses inside a house alone, so that a phone
that trusts it trusts it for nothing else (RFC 5280, 4.2.1.10).
"""

import ipaddress
import socket
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

PEM = serialization.Encoding.PEM
AUTHORITY_FILE, KEY_FILE, SERVER_FILE = "authority.pem", "authority.key.pem", "server.pem"
AUTHORITY_LASTS = timedelta(days=3650)
SERVER_LASTS = timedelta(days=397)  # phones refuse certificates that hold for much longer than a year
RENEWED_BEFORE = timedelta(days=30)
# Names and addresses that mean something inside one house only (RFC 6762, 8375, 1918, 3927, 4193, 4291).
HOUSE_NAMES = ("localhost", "local", "home.arpa", "lan", "internal")
HOUSE_NETWORKS = tuple(
    map(
        ipaddress.ip_network,
        (
            *("127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16"),
            *("::1/128", "fc00::/7", "fe80::/10"),
        ),
    )
)


class Authority:
    """The one kept in this folder."""

    def __init__(self, folder: Path) -> None:
        self.server_file = folder / SERVER_FILE
        self.key_file = folder / KEY_FILE
        self.certificate = x509.load_pem_x509_certificate((folder / AUTHORITY_FILE).read_bytes())

    @property
    def as_download(self) -> bytes:
        """What a phone or a computer takes in: the certificate without the key, in DER."""
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """SHA-256, as devices show it: pairs with colons between."""
        return self.certificate.fingerprint(hashes.SHA256()).hex(":").upper()

    def renew_server(self, names: Iterable[str], now: datetime) -> bool:
        """A certificate for those names that the authority may vouch for; False where the one there still does."""
        wanted = {name for name in names if self.may_vouch_for(name)}
        if self.server_file.exists():
            there = x509.load_pem_x509_certificate(self.server_file.read_bytes())
            if wanted <= _names_in(there) and there.not_valid_after_utc - RENEWED_BEFORE > now:
                return False
        key = ec.generate_private_key(ec.SECP256R1())
        signing = serialization.load_pem_private_key(self.key_file.read_bytes(), None)
        assert isinstance(signing, ec.EllipticCurvePrivateKey)
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Fettlebook")])
        ends = min(now + SERVER_LASTS, self.certificate.not_valid_after_utc)
        certificate = (
            _begun(subject, self.certificate.subject, key.public_key(), now, ends)
            .add_extension(x509.SubjectAlternativeName(list(map(_general, sorted(wanted)))), critical=False)
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(_for_signing(certificates=False), critical=True)
            .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
            .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False)
            .sign(signing, hashes.SHA256())
        )
        chain = [each.public_bytes(PEM) for each in (certificate, self.certificate)]
        _write(self.server_file, b"".join([*chain, _key_bytes(key)]))
        return True

    def may_vouch_for(self, name: str) -> bool:
        allowed = self.certificate.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
        address = _address(name)
        for each in allowed or ():
            if isinstance(each, x509.IPAddress) and address and address in ipaddress.ip_network(str(each.value)):
                return True
            if isinstance(each, x509.DNSName) and not address and f".{name}".endswith(f".{each.value}"):
                return True
        return False


def kept_authority(folder: Path, names: Iterable[str], now: datetime) -> Authority:
    """The one in the folder, made where there is none yet: then it may vouch for these names beside the house's own."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not (folder / AUTHORITY_FILE).exists():
        key = ec.generate_private_key(ec.SECP256R1())
        name = x509.Name(
            [
                x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Fettlebook"),
                x509.NameAttribute(NameOID.COMMON_NAME, f"Fettlebook on {socket.gethostname()}"[:64]),
            ]
        )
        certificate = (
            _begun(name, name, key.public_key(), now, now + AUTHORITY_LASTS)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .add_extension(_for_signing(certificates=True), critical=True)
            .add_extension(x509.NameConstraints(_vouched_for(names), None), critical=True)
            .sign(key, hashes.SHA256())
        )
        _write(folder / KEY_FILE, _key_bytes(key))
        _write(folder / AUTHORITY_FILE, certificate.public_bytes(PEM))
    return Authority(folder)


def _begun(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, ends: datetime
) -> x509.CertificateBuilder:
    yesterday = now - timedelta(days=1)  # a phone's clock may be behind
    return (
        x509.CertificateBuilder(issuer, subject, key, x509.random_serial_number())
        .not_valid_before(yesterday)
        .not_valid_after(ends)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _for_signing(*, certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not certificates,
        key_cert_sign=certificates,
        crl_sign=certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _vouched_for(names: Iterable[str]) -> list[x509.GeneralName]:
    house: list[x509.GeneralName] = [*map(x509.DNSName, HOUSE_NAMES), *map(x509.IPAddress, HOUSE_NETWORKS)]
    for name in sorted(set(names)):
        address = _address(name)
        if address is None:
            house.append(x509.DNSName(name))
        elif not any(address in network for network in HOUSE_NETWORKS):
            house.append(x509.IPAddress(ipaddress.ip_network(address)))
    return house


def _general(name: str) -> x509.GeneralName:
    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(address)


def _names_in(certificate: x509.Certificate) -> set[str]:
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in names}


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())


def _write(path: Path, data: bytes) -> None:
    """Whole or not at all, and for its owner alone from the first byte on."""
    new = path.with_suffix(".new")
    new.unlink(missing_ok=True)
    new.touch(mode=0o600)
    new.write_bytes(data)
    new.replace(path)
