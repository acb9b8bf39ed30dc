using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Changes;

/// <summary>Follows what settings are described as: which of several variants holds is not asked, for all that they say about a member is looked at.</summary>
internal static class DescribedMembers
{
    /// <summary>What a member may hold.</summary>
    public static IReadOnlyList<TypeDescription> Below(IReadOnlyList<TypeDescription> types, string name) =>
    [
        .. types.SelectMany(type => type switch
        {
            ObjectDescription described => described.AllMembers.Where(member => member.Name == name).Select(member => member.Type),
            MapDescription map => [map.Item],
            _ => [],
        }).SelectMany(Ways),
    ];

    /// <summary>What the items of a list may be.</summary>
    public static IReadOnlyList<TypeDescription> Items(IReadOnlyList<TypeDescription> types) => [.. types.OfType<ListDescription>().Select(list => list.Item).SelectMany(Ways)];

    /// <summary>Whether a value must not be shown.</summary>
    public static bool AreSecret(IReadOnlyList<TypeDescription> types) =>
        types.Any(type => type is ScalarDescription { IsSecret: true }) || Items(types).Any(item => item is ScalarDescription { IsSecret: true });

    private static IEnumerable<TypeDescription> Ways(TypeDescription type) => type is EitherDescription either ? either.Ways.SelectMany(Ways) : [type];
}
