using Microsoft.AspNetCore.Routing;

namespace SawEdge.Gateway.Api;

/// <summary>All endpoints under <see cref="Prefix"/>, one line a group.</summary>
internal static class ApiRoutes
{
    /// <summary>What the path of each endpoint begins with.</summary>
    public const string Prefix = "/api/v1";

    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        SiteEndpoints.Map(api, context);
        AlarmAnswerEndpoints.Map(api, context);
        StopReasonEndpoints.Map(api, context);
        ScrapEndpoints.Map(api, context);
        BladeChangeEndpoints.Map(api, context);
        AuditEndpoints.Map(api, context);
        ApiRead.Map(api, context);
        OeeEndpoints.Map(api, context);
        TimelineEndpoints.Map(api, context);
        StopEndpoints.Map(api, context);
    }
}
