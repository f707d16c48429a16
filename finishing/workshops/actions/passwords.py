"""A new password without mail: a link that an owner, or whoever runs the server, hands to the person."""

from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from finishing.workshops.models import Membership, User

Role = Membership.Role


def may_renew_password(owner: User, person: User) -> bool:
    """Only of somebody who belongs to no workshop but this owner's: else the link would open another's door too."""
    if person.is_staff or person.is_superuser:
        return False
    owned = Membership.objects.filter(user=owner, role=Role.OWNER).values("workshop")
    own = Membership.objects.filter(user=person)
    return own.exists() and not own.exclude(workshop__in=owned).exists()


def password_link(person: User) -> str:
    """The path of a page that asks for a new password. It works once, for a day, and no more once they sign in."""
    key = urlsafe_base64_encode(force_bytes(person.pk))
    return reverse("new-password", args=[key, default_token_generator.make_token(person)])
