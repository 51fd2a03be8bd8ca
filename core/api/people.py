"""People, the ways to reach them, their free hours, skills, certificates and crews."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from core.api.facts import FactSerializer, FactViewSet, NothingSerializer
from core.api.fields import OwnRow, Zone
from core.api.permissions import MANAGERS, is_manager
from core.delivery.signing import key_of
from core.models import Certificate, Crew, FreeException, FreeTime, Person, Skill, Way
from core.services.invitations import VALID_FOR, invite, link_of
from core.services.people import remove_person, save_crew, save_person

LARGEST_CREW = 200


class PersonSerializer(FactSerializer[Person]):
    zone = Zone(required=False, allow_blank=True, help_text="Empty: the holding's zone.")

    class Meta:
        model = Person
        fields = ["id", "name", "role", "zone", "active", "evening_at"]


class ColleagueSerializer(FactSerializer[Person]):
    """What people who are no managers see of each other."""

    class Meta:
        model = Person
        fields = ["id", "name", "role"]


class InvitationSerializer(serializers.Serializer[Any]):
    person = serializers.IntegerField()
    link = serializers.URLField(help_text="Shown this once; only its hash is stored.")
    expires_at = serializers.DateTimeField()


class PersonViewSet(FactViewSet):
    """The people of the holding; all but managers see name and role."""

    queryset = Person.objects.all()
    serializer_class = PersonSerializer
    filterset_fields = {"name": ["exact"], "role": ["exact"], "active": ["exact"]}

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        if getattr(self, "swagger_fake_view", False) or is_manager(self.person):
            return PersonSerializer
        return ColleagueSerializer

    def store(self, row: Person, values: Mapping[str, Any]) -> Person:
        return save_person(person=row, by=self.person, fields=sorted(values))

    def remove(self, row: Any) -> None:
        remove_person(person=row, by=self.person)

    @extend_schema(request=NothingSerializer, responses={201: InvitationSerializer})
    @action(detail=True, methods=["post"])
    def invitation(self, request: Request, pk: int) -> Response:
        """A link by which the person comes to sign in: once, within seven days. One made before ends."""
        person = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        now = timezone.now()
        link = link_of(invite(person=person, by=self.person, now=now))
        told = {"person": person.pk, "link": link, "expires_at": now + VALID_FOR}
        return Response(told, status=201, headers={"Cache-Control": "no-store"})


class WaySerializer(FactSerializer[Way]):
    class Meta:
        model = Way
        fields = [
            "id",
            "person",
            "kind",
            "address",
            "verified_at",
            "quiet_from",
            "quiet_to",
            "daily_limit",
            "stopped_at",
        ]
        read_only_fields = ["verified_at", "stopped_at"]


class WayKeySerializer(serializers.Serializer[Any]):
    key = serializers.CharField(help_text="Both sides sign with it; a new address has a new one.")


class WayViewSet(FactViewSet):
    """How people are reached; managers alone see addresses."""

    queryset = Way.objects.all()
    serializer_class = WaySerializer
    readers = MANAGERS
    filterset_fields = {"person": ["exact"], "kind": ["exact"]}

    @extend_schema(request=None, responses={200: WayKeySerializer})
    @action(detail=True, methods=["post"])
    def key(self, request: Request, pk: int) -> Response:
        """Show the key that signs messages to this way and answers from its address. It is stored nowhere."""
        way = self.get_object()
        NothingSerializer(data=request.data).is_valid(raise_exception=True)
        return Response({"key": key_of(way.pk, way.address)}, headers={"Cache-Control": "no-store"})


class FreeTimeSerializer(FactSerializer[FreeTime]):
    class Meta:
        model = FreeTime
        fields = ["id", "person", "weekday", "starts", "ends"]


class FreeTimeViewSet(FactViewSet):
    """Free hours of a week, in the person's zone; all but managers see their own."""

    queryset = FreeTime.objects.all()
    serializer_class = FreeTimeSerializer
    own_by = "person"
    order = ("person_id", "weekday", "starts", "id")
    filterset_fields = {"person": ["exact"], "weekday": ["exact"]}


class FreeExceptionSerializer(FactSerializer[FreeException]):
    class Meta:
        model = FreeException
        fields = ["id", "person", "day", "starts", "ends", "free", "note"]


class FreeExceptionViewSet(FactViewSet):
    """Days that differ from the usual week; all but managers see their own."""

    queryset = FreeException.objects.all()
    serializer_class = FreeExceptionSerializer
    own_by = "person"
    order = ("day", "starts", "id")
    filterset_fields = {"person": ["exact"], "day": ["exact", "gte", "lte"], "free": ["exact"]}


class SkillSerializer(FactSerializer[Skill]):
    class Meta:
        model = Skill
        fields = ["id", "name"]


class SkillViewSet(FactViewSet):
    """What not everybody may or can do."""

    queryset = Skill.objects.all()
    serializer_class = SkillSerializer
    filterset_fields = {"name": ["exact"]}


class CertificateSerializer(FactSerializer[Certificate]):
    class Meta:
        model = Certificate
        fields = ["id", "person", "skill", "number", "valid_from", "valid_to"]


class CertificateViewSet(FactViewSet):
    """Proofs of skills with their days, both inclusive; all but managers see their own."""

    queryset = Certificate.objects.all()
    serializer_class = CertificateSerializer
    own_by = "person"
    filterset_fields = {"person": ["exact"], "skill": ["exact"], "valid_to": ["gte", "lte"]}


class CrewSerializer(FactSerializer[Crew]):
    members = OwnRow(many=True, required=False, queryset=Person.objects.all())

    class Meta:
        model = Crew
        fields = ["id", "name", "members"]

    def validate_members(self, members: list[Person]) -> list[Person]:
        if len(members) > LARGEST_CREW:
            raise serializers.ValidationError(f"A crew has at most {LARGEST_CREW} members.")
        return members

    def to_representation(self, instance: Crew) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        return {**shown, "members": sorted(shown["members"])}


class CrewViewSet(FactViewSet):
    """People who go out together; `members` are ids of people and replace those before."""

    queryset = Crew.objects.prefetch_related(Prefetch("members", Person.objects.only("id")))
    serializer_class = CrewSerializer
    filterset_fields = {"name": ["exact"], "members": ["exact"]}

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        values = dict(serializer.validated_data)
        members = values.pop("members", [])
        crew = Crew(**self.tenant(), **values)
        serializer.instance = save_crew(crew=crew, by=self.person, members=members, fields=sorted(values))

    def perform_update(self, serializer: BaseSerializer[Any]) -> None:
        values = dict(serializer.validated_data)
        members, crew = values.pop("members", None), serializer.instance
        assert isinstance(crew, Crew)
        for name, value in values.items():
            setattr(crew, name, value)
        save_crew(crew=crew, by=self.person, members=members, fields=sorted(values))
        serializer.instance = self.get_queryset().get(pk=crew.pk)
